#include "sim/faults/unit/stuck_busy.hpp"

#include "sim/faults/unit/free.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.set_unit_busy(action.target.index, true, at);
}

Action undo(const Action& action) { return opposite(kFree, action); }

}  // namespace

const ActionKind kStuckBusy{
    "stuck_busy", TargetKind::unit, "lets a unit answer everything with exception 06 and take nothing up",
    Duration{},   perform,          {},
    undo};

}  // namespace emberline::faults
