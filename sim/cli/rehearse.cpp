#include <array>
#include <ctime>
#include <memory>
#include <set>

#include "sim/base/duration_text.hpp"
#include "sim/cli/capturing.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/stop_signals.hpp"
#include "sim/io/files/load.hpp"
#include "sim/io/line/wall_bench.hpp"
#include "sim/io/master/stepped_masters.hpp"
#include "sim/io/master/wall_masters.hpp"
#include "sim/io/report/report.hpp"
#include "sim/rehearsal/rehearsal.hpp"

namespace emberline::cli {
namespace {

using rehearsal::ScenarioSpec;
using rehearsal::Verdict;
using Run = Result<Verdict, std::string>;  ///< the error is one line about the surroundings

/// Ends a run on the wall clock when its time has come.
class RunEnd final : public bench::EventSource {
 public:
  RunEnd(SimTime at, io::WallBench& wall) : at_(at), wall_(wall) {}
  [[nodiscard]] std::optional<SimTime> next() const override {
    return ended_ ? std::nullopt : std::optional(at_);
  }
  void run(SimTime now) override {
    if (now < at_) return;
    ended_ = true;
    wall_.stop();
  }

 private:
  SimTime at_;
  io::WallBench& wall_;
  bool ended_ = false;
};

Run run_stepped(const ScenarioSpec& scenario, const RehearseOptions& options, std::uint64_t seed) {
  rehearsal::Rehearsal rehearsal(scenario, seed, {});
  Capturing capturing;
  if (const auto begun = capturing.begin(options.capture, rehearsal.bench()); !begun)
    return Failure{begun.error()};
  io::SteppedMasters masters(rehearsal.bench(), scenario.masters);
  rehearsal.loop().add(bench::Rank::frames, masters.wire());
  rehearsal.loop().add(bench::Rank::stand_ins, masters.stand_ins());
  rehearsal.loop().run_through(scenario.ends);
  masters.finish();
  if (const auto written = capturing.finish(); !written) return Failure{written.error()};
  auto verdict = rehearsal.verdict(masters.transactions());
  verdict.mistaken_answers = masters.mistaken_answers();
  return verdict;
}

std::vector<io::LineAddress> addresses(const ScenarioSpec& scenario, const std::vector<io::OpenLine>& lines) {
  std::vector<io::LineAddress> found;
  for (const auto& line : lines) {
    const auto& spec = scenario.bench.lines[*scenario.bench.find_line(line.name)];
    found.push_back({line.name, bench::carries_rtu(line.kind), line.path, spec.serial, line.host, line.port});
  }
  return found;
}

Run run_wall(const ScenarioSpec& scenario, const RehearseOptions& options, std::uint64_t seed) {
  StopSignals signals;
  rehearsal::Rehearsal rehearsal(scenario, seed, {options.plant_speed});
  io::WallBench::Options wall_options;
  wall_options.private_lines = !options.real_master;
  io::WallBench wall(rehearsal.bench(), rehearsal.loop(), wall_options);
  RunEnd run_end(scenario.ends, wall);
  rehearsal.loop().add(bench::Rank::expectations, run_end);
  const auto lines = wall.open();
  if (!lines) return Failure{lines.error()};
  Capturing capturing;
  if (const auto begun = capturing.begin(options.capture, rehearsal.bench()); !begun)
    return Failure{begun.error()};
  std::unique_ptr<io::WallMasters> masters;
  if (options.real_master) {
    print(cautions());
    for (const auto& line : *lines)
      print(line.name + ": waiting for your master at " + place_of(line) + "\n");
  } else {
    auto& journal = rehearsal.bench().journal();
    masters = std::make_unique<io::WallMasters>(
        scenario.masters, addresses(scenario, *lines), [&wall] { return wall.now(); },
        [&wall, &journal](std::string who, std::string sentence) {
          wall.post([&journal, who = std::move(who), sentence = std::move(sentence)](SimTime at) {
            journal.note(at, who, sentence);
          });
        });
    masters->start();
  }
  signals.watch([&wall] { wall.stop(); });
  print(scenario.title + ": running on the wall clock for " +
        format_duration(scenario.ends.time_since_epoch()) + ", Ctrl-C ends it\n");
  wall.run();
  if (masters) masters->finish();
  if (const auto written = capturing.finish(); !written) return Failure{written.error()};
  return rehearsal.verdict(masters ? masters->transactions() : wall.statistics().requests);
}

Run run_one(const ScenarioSpec& scenario, const RehearseOptions& options, std::uint64_t seed) {
  const bool wall = options.real_master || scenario.clock == rehearsal::Clock::wall;
  return wall ? run_wall(scenario, options, seed) : run_stepped(scenario, options, seed);
}

/// ISO 8601, UTC, as JUnit wants it.
std::string timestamp() {
  const std::time_t now = std::time(nullptr);
  std::tm parts{};
  gmtime_r(&now, &parts);
  std::array<char, 32> text{};
  const auto length = std::strftime(text.data(), text.size(), "%Y-%m-%dT%H:%M:%S", &parts);
  return {text.data(), length};
}

bool write_results(const RehearseOptions& options, const std::vector<Verdict>& verdicts) {
  bool all_written = true;
  const auto put = [&](const std::string& path, const std::string& content) {
    if (path.empty()) return;
    if (const auto written = io::write_whole(path, content); !written) {
      complain(written.error());
      all_written = false;
    }
  };
  put(options.junit, io::junit_xml(verdicts, timestamp()));
  put(options.json, io::verdicts_json(verdicts));
  return all_written;
}

/// Loads every file before anything starts, so that a mistake in the last one costs no run of the first.
std::optional<std::vector<ScenarioSpec>> load_all(const std::vector<std::string>& files) {
  std::vector<ScenarioSpec> scenarios;
  std::set<std::string> said;
  bool all_good = true;
  for (const auto& file : files) {
    auto scenario = io::load_scenario(file);
    if (scenario) {
      scenarios.push_back(std::move(scenario).value());
      continue;
    }
    all_good = false;
    io::Problems fresh;  // two scenarios on one broken bench would say everything twice
    for (const auto& problem : scenario.error())
      if (said.insert(to_text(problem)).second) fresh.push_back(problem);
    complain(fresh);
  }
  if (!all_good) return std::nullopt;
  return scenarios;
}

bool speed_makes_sense(const RehearseOptions& options, const std::vector<ScenarioSpec>& scenarios) {
  if (options.plant_speed == 1.0 || options.real_master) return true;
  for (const auto& scenario : scenarios) {
    if (scenario.clock == rehearsal::Clock::wall) continue;
    complain("--plant-speed is for the wall clock; '" + scenario.title +
             "' runs in stepped time, which waits for nothing");
    return false;
  }
  return true;
}

}  // namespace

int rehearse(const RehearseOptions& options) {
  const auto seed = seed_of(options.seed);
  if (!seed) return kInputUnusable;
  if (!options.capture.empty() && options.scenarios.size() > 1) {
    complain("--capture: a capture is of one rehearsal, found " + std::to_string(options.scenarios.size()) +
             " scenarios");
    return kInputUnusable;
  }
  if (!options.report.empty()) {
    complain("--report: HTML reports are not there yet; --junit and --json are");
    return kInputUnusable;
  }
  const auto scenarios = load_all(options.scenarios);
  if (!scenarios || !speed_makes_sense(options, *scenarios)) return kInputUnusable;
  std::vector<Verdict> verdicts;
  for (const auto& scenario : *scenarios) {
    const auto run = run_one(scenario, options, *seed);
    if (!run) {
      complain(run.error());
      return kSurroundingsFailed;
    }
    print(io::terminal_report(*run, colour_wanted()) + "\n");
    verdicts.push_back(*run);
  }
  std::size_t passed = 0;
  for (const auto& verdict : verdicts) passed += verdict.passed ? 1 : 0;
  if (verdicts.size() > 1) {
    for (const auto& verdict : verdicts)
      print(std::string(verdict.passed ? "PASSED  " : "FAILED  ") + verdict.title + "\n");
    print(std::to_string(passed) + " of " + std::to_string(verdicts.size()) + " rehearsals passed\n");
  }
  print(cautions());
  if (!write_results(options, verdicts)) return kSurroundingsFailed;
  return passed == verdicts.size() ? kAllWell : kVerdictFailed;
}

}  // namespace emberline::cli
