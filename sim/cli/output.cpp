#include "sim/cli/output.hpp"

#include <cstdio>
#include <cstdlib>

#include <unistd.h>

namespace emberline::cli {

void print(std::string_view text) {
  std::fwrite(text.data(), 1, text.size(), stdout);
  std::fflush(stdout);
}

void complain(std::string_view message) {
  const std::string line = "emberline: " + std::string(message) + "\n";
  std::fwrite(line.data(), 1, line.size(), stderr);
}

void complain(const io::Problems& problems) {
  for (const auto& problem : problems) {
    const auto line = to_text(problem) + "\n";
    std::fwrite(line.data(), 1, line.size(), stderr);
  }
}

bool colour_wanted() {
  const char* no_colour = std::getenv("NO_COLOR");
  return ::isatty(STDOUT_FILENO) != 0 && (no_colour == nullptr || *no_colour == '\0');
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

}  // namespace emberline::cli
