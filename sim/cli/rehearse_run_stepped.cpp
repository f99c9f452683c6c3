#include <algorithm>
#include <chrono>
#include <optional>
#include <string>

#include "sim/cli/capturing.hpp"
#include "sim/cli/crash_report.hpp"
#include "sim/cli/rehearse_run.hpp"
#include "sim/io/master/one_core.hpp"
#include "sim/io/master/stepped_masters.hpp"

namespace emberline::cli {
namespace {

using Clock = std::chrono::steady_clock;

/// How far it goes, in simulated time, before it is asked whether to stop. Standing there for a moment
/// changes nothing, so it may be as the machine likes it: often enough for whoever waits, also in a story in
/// which much happens, and seldom enough to cost nothing.
class Stride {
 public:
  [[nodiscard]] Duration length() const { return length_; }
  void took(Clock::duration real) {
    if (real < std::chrono::milliseconds{20}) length_ = std::min<Duration>(length_ * 2, kLongest);
    if (real > std::chrono::milliseconds{100}) length_ = std::max<Duration>(length_ / 2, kShortest);
  }

 private:
  static constexpr Duration kShortest = std::chrono::microseconds{10};
  static constexpr Duration kLongest = std::chrono::seconds{10};
  Duration length_ = std::chrono::milliseconds{10};
};

}  // namespace

Run run_stepped(const rehearsal::ScenarioSpec& scenario, std::uint64_t seed, std::size_t worker,
                const RunSetting& setting) {
  std::optional<io::OneCore> core;  // before the threads of the stand-ins: they inherit it
  if (setting.side_by_side) core.emplace(setting.first_core, worker);
  rehearsal::Rehearsal rehearsal(scenario, seed, {});
  const Running running(rehearsal.loop(), scenario.file_stem + ", seed " + std::to_string(seed));
  Capturing capturing;
  if (const auto begun = capturing.begin(setting.options.capture, rehearsal.bench()); !begun)
    return Failure{begun.error()};
  io::SteppedMasters masters(rehearsal.bench(), scenario.masters);
  auto& loop = rehearsal.loop();
  loop.add(bench::Rank::frames, masters.wire());
  loop.add(bench::Rank::stand_ins, masters.stand_ins());
  for (Stride stride; loop.now() < scenario.ends && !setting.stopping.asked();) {
    const auto before = Clock::now();
    loop.run_through(std::min(scenario.ends, loop.now() + stride.length()));
    stride.took(Clock::now() - before);
  }
  masters.finish();
  if (const auto written = capturing.finish(); !written) return Failure{written.error()};
  if (const auto saved = save_state(setting.options, rehearsal); !saved) return Failure{saved.error()};
  auto verdict = rehearsal.verdict(masters.transactions());
  verdict.mistaken_answers = masters.mistaken_answers();
  return verdict;
}

}  // namespace emberline::cli
