#include "sim/cli/output.hpp"

#include <algorithm>
#include <charconv>
#include <cstdio>
#include <cstdlib>

#include <unistd.h>

#include "sim/base/plain_text.hpp"
#include "sim/base/quantity.hpp"

namespace emberline::cli {

void print(std::string_view text) {
  std::fwrite(text.data(), 1, text.size(), stdout);
  std::fflush(stdout);
}

bool output_complete() { return std::fflush(stdout) == 0 && std::ferror(stdout) == 0; }

void complain(std::string_view message) {
  const std::string line = "emberline: " + plain_lines(std::string(message)) + "\n";
  std::fwrite(line.data(), 1, line.size(), stderr);
}

void complain(const io::Problems& problems) {
  for (const auto& problem : problems) {
    const auto line = to_text(problem) + "\n";
    std::fwrite(line.data(), 1, line.size(), stderr);
  }
}

bool rewriting_possible(int stream) {
  const char* terminal = std::getenv("TERM");
  return ::isatty(stream) != 0 && terminal != nullptr && *terminal != '\0' &&
         std::string_view(terminal) != "dumb";
}

bool colour_wanted(int stream) {
  const char* no_colour = std::getenv("NO_COLOR");
  return rewriting_possible(stream) && (no_colour == nullptr || *no_colour == '\0');
}

std::string place_of(const io::OpenLine& line) {
  return line.path.empty() ? line.host + ":" + std::to_string(line.port) : line.path;
}

std::string_view cautions() {
  return "A simulation: passing a rehearsal is no safety validation. A comms watchdog, an enable terminal or "
         "a latch is\n"
         "neither a safety function nor an emergency stop, and a thyristor that is off does not isolate. "
         "Keep this bench off plant\n"
         "networks, and never let a PLC whose outputs reach real contactors run on its readings.\n";
}

std::string with_line_breaks(std::string answer) {
  std::replace(answer.begin(), answer.end(), '\t', '\n');
  return answer;
}

std::optional<std::uint64_t> whole_number(std::string_view text) {
  std::uint64_t number = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (error == std::errc{} && end == text.data() + text.size()) return number;
  return std::nullopt;
}

std::string plant_speed_caution(double plant_speed) {
  return "Zones, walls and sensors run " + format_number(plant_speed) +
         " times as fast; energy, demand, fuses and heat sinks do not. Loop constants tuned against it are "
         "not valid on site.\n";
}

std::optional<std::uint64_t> seed_of(const std::string& text) {
  if (const auto seed = whole_number(text)) return seed;
  complain("--seed: expected a whole number from 0 to 18446744073709551615, found '" + text + "'");
  return std::nullopt;
}

}  // namespace emberline::cli
