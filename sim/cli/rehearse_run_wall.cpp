#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/duration_text.hpp"
#include "sim/base/listed.hpp"
#include "sim/cli/capturing.hpp"
#include "sim/cli/crash_report.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/rehearse_human.hpp"
#include "sim/cli/rehearse_run.hpp"
#include "sim/cli/wall_stand_ins.hpp"
#include "sim/io/line/wall_bench.hpp"
#include "sim/io/master/wall_masters.hpp"

namespace emberline::cli {
namespace {

using rehearsal::ScenarioSpec;

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

io::WallBench::Options line_options(const RunSetting& setting) {
  io::WallBench::Options options;
  options.private_lines = !setting.options.real_master;
  if (setting.wait_for_master > Duration{}) options.wait_for_master = setting.wait_for_master;
  return options;
}

std::string running_text(const ScenarioSpec& scenario) {
  return scenario.title + ": running on the wall clock for " +
         format_duration(scenario.ends.time_since_epoch()) + ", Ctrl-C ends it\n";
}

/// Where the user's own masters have to go, and what happens until they do.
std::string waiting_text(const std::vector<io::OpenLine>& lines, Duration wait) {
  std::string text;
  for (const auto& line : lines) text += line.name + ": waiting for your master at " + place_of(line) + "\n";
  if (wait > Duration{}) {
    text += "Time stands still until the first valid request comes, for at most " + format_duration(wait) +
            " (--wait-for-master)\n";
  }
  return text;
}

std::vector<std::string> names_of(const std::vector<io::OpenLine>& lines) {
  std::vector<std::string> names;
  names.reserve(lines.size());
  for (const auto& line : lines) names.push_back(line.name);
  return names;
}

}  // namespace

Run run_on_wall(const ScenarioSpec& scenario, std::uint64_t seed, const RunSetting& setting) {
  const auto& options = setting.options;
  rehearsal::Rehearsal rehearsal(scenario, seed, {options.plant_speed});
  const Running running(rehearsal.loop(), scenario.file_stem + ", seed " + std::to_string(seed));
  io::WallBench wall(rehearsal.bench(), rehearsal.loop(), line_options(setting));
  RunEnd run_end(scenario.ends, wall);
  rehearsal.loop().add(bench::Rank::expectations, run_end);
  const auto lines = wall.open();
  if (!lines) return Failure{lines.error()};
  Capturing capturing;
  if (const auto begun = capturing.begin(options.capture, rehearsal.bench()); !begun)
    return Failure{begun.error()};
  std::optional<HumanHands> hands;
  if (options.by_hand) hands.emplace(scenario, rehearsal, wall, setting.console);
  std::unique_ptr<io::WallMasters> masters;
  // On real lines a master is known by the line, or by the address, it comes from: never by its name.
  rehearsal.let_any_master_count();
  if (options.real_master) {
    setting.console.say(waiting_text(*lines, setting.wait_for_master));
  } else {
    masters = start_stand_ins(scenario, wall, rehearsal.bench().journal(), *lines);
  }
  const bool tells = setting.alone || options.real_master;
  if (tells && wall.begun()) setting.console.say(running_text(scenario));
  wall.on_begun([&] { setting.console.say(running_text(scenario)); });
  {
    const Stopping::Hook stop(setting.stopping, [&wall] { wall.stop(); });
    wall.run();
  }
  if (masters) masters->finish();
  hands.reset();
  if (const auto written = capturing.finish(); !written) return Failure{written.error()};
  if (const auto saved = save_state(options, rehearsal); !saved) return Failure{saved.error()};
  auto verdict = rehearsal.verdict(masters ? masters->transactions() : wall.statistics().requests);
  verdict.wall_clock = true;
  verdict.real_master = options.real_master;
  verdict.by_hand = options.by_hand;
  verdict.plant_speed = options.plant_speed;
  if (wall.begun()) return verdict;
  if (setting.stopping.asked()) {
    judge_nothing(verdict, "the run was stopped before a master came");
    return verdict;
  }
  const auto waited = format_duration(setting.wait_for_master);
  setting.console.say("No master came within " + waited + " on " + listed(names_of(*lines)) + "\n");
  judge_nothing(verdict, "no master came within " + waited);
  return verdict;
}

}  // namespace emberline::cli
