#include "sim/faults/unit/fan_failed.hpp"

#include "sim/faults/mend.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.set_fan(action.target.index, false, at);
}

bool mend(bench::Bench& bench, const Target& target, SimTime at) {
  if (bench.fan_running(target.index)) return false;
  bench.set_fan(target.index, true, at);
  return true;
}

std::string refusal(const bench::BenchSpec& spec, const Action& action) {
  if (spec.units.at(action.target.index).heat_sink) return {};
  return "the bench file gives '" + action.target_name + "' no 'heat_sink' that a fan would cool";
}

}  // namespace

const ActionKind kFanFailed{
    "fan_failed", TargetKind::unit, "stops the fan of a unit's heat sink", Duration{}, perform, {}, mended,
    mend,         refusal};

}  // namespace emberline::faults
