#include "sim/faults/unit/cycle.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.cycle_wire(action.target.wire, at);
}

}  // namespace

const ActionKind kCycle{"cycle", TargetKind::wire,
                        "opens a wire for one second, then releases it; its moment is the closing edge",
                        bench::kCycleTime, perform};

}  // namespace emberline::faults
