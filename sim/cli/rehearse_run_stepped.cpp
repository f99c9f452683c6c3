#include <algorithm>
#include <optional>

#include "sim/cli/capturing.hpp"
#include "sim/cli/rehearse_run.hpp"
#include "sim/io/master/one_core.hpp"
#include "sim/io/master/stepped_masters.hpp"

namespace emberline::cli {
namespace {

/// How often it is asked, in simulated time, whether to stop. Standing there for a moment changes nothing.
constexpr Duration kGlance = std::chrono::seconds{10};

}  // namespace

Run run_stepped(const rehearsal::ScenarioSpec& scenario, std::uint64_t seed, std::size_t worker,
                const RunSetting& setting) {
  std::optional<io::OneCore> core;  // before the threads of the stand-ins: they inherit it
  if (setting.side_by_side) core.emplace(setting.first_core, worker);
  rehearsal::Rehearsal rehearsal(scenario, seed, {});
  Capturing capturing;
  if (const auto begun = capturing.begin(setting.options.capture, rehearsal.bench()); !begun)
    return Failure{begun.error()};
  io::SteppedMasters masters(rehearsal.bench(), scenario.masters);
  auto& loop = rehearsal.loop();
  loop.add(bench::Rank::frames, masters.wire());
  loop.add(bench::Rank::stand_ins, masters.stand_ins());
  while (loop.now() < scenario.ends && !setting.stopping.asked())
    loop.run_through(std::min(scenario.ends, loop.now() + kGlance));
  masters.finish();
  if (const auto written = capturing.finish(); !written) return Failure{written.error()};
  if (const auto saved = save_state(setting.options, rehearsal); !saved) return Failure{saved.error()};
  auto verdict = rehearsal.verdict(masters.transactions());
  verdict.mistaken_answers = masters.mistaken_answers();
  return verdict;
}

rehearsal::Verdict not_run(const rehearsal::ScenarioSpec& scenario, std::uint64_t seed) {
  auto verdict = rehearsal::Rehearsal(scenario, seed, {}).verdict(0);
  judge_nothing(verdict, "the run was stopped before it began");
  return verdict;
}

void judge_nothing(rehearsal::Verdict& verdict, const std::string& reason) {
  verdict.passed = false;
  for (auto& outcome : verdict.outcomes) {
    outcome.result = rehearsal::Outcome::Result::not_judged;
    outcome.sentence = "could not be judged: " + reason;
    outcome.at.reset();
    outcome.around = {};
  }
}

}  // namespace emberline::cli
