#include "sim/faults/unit/thyristor_open.hpp"

#include "sim/faults/action_plant.hpp"

namespace emberline::faults {
namespace {

void set(plant::LegState& state, const Target& target, bool open) {
  if (means(target, true)) state.forward_open = open;
  if (means(target, false)) state.backward_open = open;
}

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  alter_legs(bench, action.target, at, [&](plant::LegState& state, std::size_t) {
    set(state, action.target, true);
    return state.forward_open && state.backward_open
               ? std::string("thyristors open, both directions: nothing flows here whatever the command")
               : side_in_words(action.target.side) +
                     " open: half of the half-waves are missing, and what flows has a direct component";
  });
}

bool mend(bench::Bench& bench, const Target& target, SimTime at) {
  return alter_legs(bench, target, at, [&](plant::LegState& state, std::size_t) {
    set(state, target, false);
    return side_in_words(target.side) + " replaced: fired ones conduct again";
  });
}

}  // namespace

const ActionKind kThyristorOpen{"thyristor_open",
                                TargetKind::thyristor,
                                "lets a thyristor conduct no more, whatever the command",
                                Duration{},
                                perform,
                                {},
                                mended,
                                mend};

}  // namespace emberline::faults
