#include "sim/faults/unit/free.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.set_unit_busy(action.target.index, false, at);
}

}  // namespace

const ActionKind kFree{"free", TargetKind::unit, "lets a unit that is stuck at busy take requests up again",
                       Duration{}, perform};

}  // namespace emberline::faults
