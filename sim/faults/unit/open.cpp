#include "sim/faults/unit/open.hpp"

#include "sim/faults/unit/release.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.open_wire(action.target.wire, at);
}

Action undo(const Action& action) { return opposite(kRelease, action); }

}  // namespace

const ActionKind kOpen{
    "open",     TargetKind::wire, "breaks the wire to a terminal or contactor until it is released",
    Duration{}, perform,          {},
    undo};

}  // namespace emberline::faults
