#include "sim/faults/unit/release.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.release_wire(action.target.wire, at);
}

}  // namespace

const ActionKind kRelease{"release", TargetKind::wire, "gives a wire back to what drives it", Duration{},
                          perform};

}  // namespace emberline::faults
