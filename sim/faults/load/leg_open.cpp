#include "sim/faults/load/leg_open.hpp"

#include "sim/faults/action_plant.hpp"
#include "sim/faults/load/element_open.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const int all = bench.spec().units.at(action.target.index).load.elements;
  alter_legs(bench, action.target, at, [&](plant::LegState& state, std::size_t) {
    state.elements_open = all;
    return std::string("the leg is open: nothing flows in it");
  });
}

bool mend(bench::Bench& bench, const Target& target, SimTime at) {
  return kElementOpen.mend(bench, target, at);
}

}  // namespace

const ActionKind kLegOpen{
    "leg_open", TargetKind::leg, "breaks a whole leg of a load", Duration{}, perform, {}, mended, mend};

}  // namespace emberline::faults
