#include "tests/sim/io/files/workspace.hpp"

#include <filesystem>
#include <fstream>
#include <map>

#include <doctest/doctest.h>
#include <unistd.h>

#include "sim/io/files/table_mapping_file.hpp"
#include "tests/sim/io/files/sample_files.hpp"
#include "tests/support/this_build.hpp"

namespace emberline::test {
namespace {

namespace fs = std::filesystem;

std::string without(std::string text, const std::string& part) {
  for (auto at = text.find(part); at != std::string::npos; at = text.find(part)) text.erase(at, part.size());
  return text;
}

std::string joined(const std::vector<std::string>& lines) {
  std::string text;
  for (const auto& line : lines) text += (text.empty() ? "" : "\n") + line;
  return text;
}

template <class Loaded>
io::Problems problems_of(const Loaded& loaded) {
  return loaded ? io::Problems{} : loaded.error();
}

}  // namespace

Workspace::Workspace() : folder_(testing::build_folder() + "/test-files-" + std::to_string(::getpid())) {
  fs::remove_all(folder_);
  fs::create_directories(folder_);
}

Workspace::~Workspace() {
  std::error_code ignored;
  fs::remove_all(folder_, ignored);
}

std::string Workspace::path(const std::string& name) const { return folder_ + "/" + name; }

std::string Workspace::write(const std::string& name, const std::string& text) const {
  fs::create_directories(fs::path(path(name)).parent_path());
  std::ofstream(path(name), std::ios::binary) << text;
  return path(name);
}

std::vector<std::string> Workspace::lines(const io::Problems& problems) const {
  std::vector<std::string> lines;
  for (const auto& problem : problems) lines.push_back(without(to_text(problem), folder_ + "/"));
  return lines;
}

std::vector<std::string> Workspace::complaints(const std::string& name) const {
  const auto kind = io::kind_of(path(name));
  if (!kind) return lines(kind.error());
  switch (*kind) {
    case io::FileKind::bench:
      return lines(problems_of(io::load_bench(path(name))));
    case io::FileKind::register_table:
      return lines(problems_of(io::load_register_table(path(name))));
    case io::FileKind::scenario:
      return lines(problems_of(io::load_scenario(path(name))));
    case io::FileKind::poll_plan:
      return lines(problems_of(io::load_poll_plan(path(name))));
    case io::FileKind::table_mapping:
      return lines(problems_of(io::load_table_mapping(path(name))));
  }
  return {};
}

std::string replaced(const std::string& text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  REQUIRE_MESSAGE(at != std::string::npos, from);
  REQUIRE_MESSAGE(text.find(from, at + 1) == std::string::npos, from);
  return text.substr(0, at) + to + text.substr(at + from.size());
}

void check_breakages(std::span<const Breakage> cases, const std::string& loaded) {
  const std::map<std::string, std::string> good{{"bench.yaml", kBench},
                                                {"table.yaml", kTable},
                                                {"scenario.yaml", kScenario},
                                                {"poll-plan.yaml", kPollPlan}};
  const Workspace workspace;
  for (const auto& [name, text] : good) workspace.write(name, text);
  REQUIRE(workspace.complaints(loaded).empty());
  for (const auto& breakage : cases) {
    CAPTURE(std::string(breakage.what));
    const std::string file = breakage.file != nullptr ? breakage.file : loaded;
    workspace.write(file, replaced(good.at(file), breakage.from, breakage.to));
    CHECK(joined(workspace.complaints(loaded)) == std::string(breakage.expected));
    workspace.write(file, good.at(file));
  }
}

}  // namespace emberline::test
