#include "sim/faults/supply/phase_back.hpp"

#include "sim/faults/supply/phase_lost.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  if (!kPhaseLost.mend(bench, action.target, at))
    bench.journal().note(at, action.target_name, "nothing to connect again: no phase was lost here");
}

}  // namespace

const ActionKind kPhaseBack{"phase_back", TargetKind::supply, "connects lost phases again", Duration{},
                            perform};

}  // namespace emberline::faults
