#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "tests/bench/many_units.hpp"
#include "tests/bench/measure.hpp"
#include "tests/bench/serve_shares.hpp"
#include "tests/bench/speed.hpp"

namespace {

using namespace emberline::speed;

struct Part {
  std::string_view name;
  void (*measure)();
  bool tables = true;  ///< prints tables; else text of its own
};

constexpr std::array kParts{Part{"tcp", tcp_speed},
                            Part{"syscalls", system_calls},
                            Part{"pty", pty_speed},
                            Part{"lateness", lateness},
                            Part{"steps", step_cost},
                            Part{"grow", growth},
                            Part{"stepped", stepped_speed, false},
                            Part{"story", story_speed, false},
                            Part{"plant", plant_speed, false},
                            Part{"many", many_units, false},
                            Part{"panel", panel_pages, false}};

int usage() {
  std::string parts;
  for (const auto& part : kParts) parts += " " + std::string(part.name);
  std::fprintf(stderr,
               "usage: bench_speed [--markdown] [--rounds N] [--program FILE] [PART...]\n"
               "       bench_speed write-bench UNITS LINES FOLDER [MODE [CONNECTION [one-source] [walls]]]\n"
               "parts:%s; all when none is named\n",
               parts.c_str());
  return 2;
}

std::optional<int> whole(const std::string& text) {
  char* end = nullptr;
  const long value = std::strtol(text.c_str(), &end, 10);
  if (text.empty() || *end != '\0' || value < 1 || value > 1'000'000) return std::nullopt;
  return static_cast<int>(value);
}

/// write-bench: for whoever looks at a bench of many units otherwise.
int write_bench(const std::vector<std::string>& words) {
  if (words.size() < 4 || words.size() > 8) return usage();
  const auto units = whole(words[1]);
  const auto lines = whole(words[2]);
  if (!units || !lines) return usage();
  ManyUnits bench;
  bench.units = *units;
  bench.lines = *lines;
  if (words.size() > 4) bench.mode = words[4];
  if (words.size() > 5) bench.connection = words[5];
  for (std::size_t i = 6; i < words.size(); ++i) {
    if (words[i] != "one-source" && words[i] != "walls") return usage();
    (words[i] == "walls" ? bench.walls : bench.one_source) = true;
  }
  std::filesystem::create_directories(words[3]);
  for (const auto& file : write_many_units(bench, words[3])) std::printf("%s\n", file.c_str());
  return 0;
}

const Part* find(std::string_view name) {
  for (const auto& part : kParts)
    if (part.name == name) return &part;
  return nullptr;
}

}  // namespace

// Measures and shows; it never passes or fails, since how fast a machine is says nothing about the program.
// An answer that is broken ends it with 1.
int main(int argc, char** argv) {
  const std::vector<std::string> words(argv + 1, argv + argc);
  if (!words.empty() && words[0] == "write-bench") return write_bench(words);
  if (words.size() > 2 && words[0] == "serve-shares")
    return serve_shares(words[1], {words.begin() + 2, words.end()});
  wanted().program = (std::filesystem::read_symlink("/proc/self/exe").parent_path() / "emberline").string();
  std::vector<const Part*> parts;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (words[i] == "--markdown") {
      wanted().markdown = true;
    } else if (words[i] == "--rounds" && i + 1 < words.size() && whole(words[i + 1])) {
      wanted().rounds = *whole(words[++i]);
    } else if (words[i] == "--program" && i + 1 < words.size()) {
      wanted().program = words[++i];
    } else if (const auto* part = find(words[i])) {
      parts.push_back(part);
    } else {
      return usage();
    }
  }
  if (parts.empty())
    for (const auto& part : kParts) parts.push_back(&part);
  for (const auto* part : parts) {
    const bool fenced = wanted().markdown && !part->tables;
    if (fenced) std::printf("\n```\n");
    part->measure();
    if (fenced) std::printf("```\n");
  }
  return 0;
}
