#include "sim/faults/unit/power_off.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Target& target, SimTime at) {
  bench.set_unit_powered(target.index, false, at);
}

}  // namespace

const ActionKind kPowerOff{"power_off", TargetKind::unit, "takes the control supply from a unit", Duration{},
                           perform};

}  // namespace emberline::faults
