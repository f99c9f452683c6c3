#include "sim/faults/unit/close.hpp"

#include "sim/faults/unit/release.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.close_wire(action.target.wire, at);
}

Action undo(const Action& action) { return opposite(kRelease, action); }

}  // namespace

const ActionKind kClose{
    "close",    TargetKind::wire, "bridges the wire to a terminal or contactor until it is released",
    Duration{}, perform,          {},
    undo};

}  // namespace emberline::faults
