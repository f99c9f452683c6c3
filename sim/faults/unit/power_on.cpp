#include "sim/faults/unit/power_on.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.set_unit_powered(action.target.index, true, at);
}

}  // namespace

const ActionKind kPowerOn{"power_on", TargetKind::unit,
                          "gives a unit its control supply back; it starts up first", Duration{}, perform};

}  // namespace emberline::faults
