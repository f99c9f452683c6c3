#include "sim/faults/unit/thyristor_shorted.hpp"

#include "sim/faults/action_plant.hpp"

namespace emberline::faults {
namespace {

void set(plant::LegState& state, const Target& target, bool shorted) {
  if (means(target, true)) state.forward_shorted = shorted;
  if (means(target, false)) state.backward_shorted = shorted;
}

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  alter_legs(bench, action.target, at, [&](plant::LegState& state, std::size_t) {
    set(state, action.target, true);
    return state.forward_shorted && state.backward_shorted
               ? std::string(
                     "thyristor shorted, both directions: it conducts whatever the command; only the "
                     "contactor "
                     "stops it")
               : side_in_words(action.target.side) +
                     " shorted: every second half-wave flows whatever the command, a direct current; only "
                     "the "
                     "contactor stops it";
  });
}

bool mend(bench::Bench& bench, const Target& target, SimTime at) {
  return alter_legs(bench, target, at, [&](plant::LegState& state, std::size_t) {
    set(state, target, false);
    return side_in_words(target.side) + " replaced: without command nothing flows but leakage";
  });
}

}  // namespace

const ActionKind kThyristorShorted{"thyristor_shorted",
                                   TargetKind::thyristor,
                                   "lets a thyristor conduct always, whatever the command",
                                   Duration{},
                                   perform,
                                   {},
                                   mended,
                                   mend};

}  // namespace emberline::faults
