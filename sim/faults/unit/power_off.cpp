#include "sim/faults/unit/power_off.hpp"

#include "sim/faults/unit/power_on.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.set_unit_powered(action.target.index, false, at);
}

Action undo(const Action& action) { return opposite(kPowerOn, action); }

}  // namespace

const ActionKind kPowerOff{
    "power_off", TargetKind::unit, "takes the control supply from a unit", Duration{}, perform, {}, undo};

}  // namespace emberline::faults
