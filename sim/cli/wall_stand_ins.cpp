#include "sim/cli/wall_stand_ins.hpp"

#include <string>
#include <utility>

namespace emberline::cli {
namespace {

using rehearsal::ScenarioSpec;

std::vector<io::LineAddress> addresses(const ScenarioSpec& scenario, const std::vector<io::OpenLine>& lines) {
  std::vector<io::LineAddress> found;
  for (const auto& line : lines) {
    const auto& spec = scenario.bench.lines[*scenario.bench.find_line(line.name)];
    found.push_back({line.name, bench::carries_rtu(line.kind), line.path, spec.serial, line.host, line.port});
  }
  return found;
}

}  // namespace

std::unique_ptr<io::WallMasters> start_stand_ins(const rehearsal::ScenarioSpec& scenario, io::WallBench& wall,
                                                 bench::Journal& journal,
                                                 const std::vector<io::OpenLine>& lines) {
  auto masters = std::make_unique<io::WallMasters>(
      scenario.masters, addresses(scenario, lines), [&wall] { return wall.now(); },
      [&wall, &journal](std::string who, std::string sentence) {
        wall.post([&journal, who = std::move(who), sentence = std::move(sentence)](SimTime at) {
          journal.note(at, who, sentence);
        });
      });
  masters->start();
  return masters;
}

}  // namespace emberline::cli
