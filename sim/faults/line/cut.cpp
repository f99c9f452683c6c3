#include "sim/faults/line/cut.hpp"

#include "sim/faults/action_impairment.hpp"

namespace emberline::faults {
namespace {

constexpr ActionKey kKeys[] = {way_key(bench::Way::both, "which way nothing gets through any more")};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.lines().cut(action.target.index, way_of(action), at);
}

/// The cable is put back; what else is wrong with the line stays.
Action undo(const Action& action) { return lifted(action); }

}  // namespace

const ActionKind kCut{
    "cut",      TargetKind::line, "pulls the cable of a line: nothing gets through until it is restored",
    Duration{}, perform,          kKeys,
    undo};

}  // namespace emberline::faults
