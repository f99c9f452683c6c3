#include "sim/faults/unit/learn.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  bench.learn_load(action.target.index, at);
}

}  // namespace

const ActionKind kLearn{"learn", TargetKind::unit,
                        "lets a unit learn anew what its load is like, for partial-load-failure", Duration{},
                        perform};

}  // namespace emberline::faults
