#include "sim/faults/supply/phase_lost.hpp"

#include "sim/faults/action_plant.hpp"

namespace emberline::faults {
namespace {

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  alter_supply(bench, action.target, at, [&](plant::SupplyState& state) {
    const auto& spec = bench.spec();
    for (const auto phase : phases_of(spec, action.target)) state.open[phase] = true;
    const bool one_of_three = action.target.part && spec.supply.system == plant::System::three_phase;
    return phases_in_words(spec, action.target) +
           (one_of_three ? " lost: loads without neutral run on what is left between the others"
                         : " lost: no load has any power");
  });
}

bool mend(bench::Bench& bench, const Target& target, SimTime at) {
  return alter_supply(bench, target, at, [&](plant::SupplyState& state) {
    for (const auto phase : phases_of(bench.spec(), target)) state.open[phase] = false;
    return phases_in_words(bench.spec(), target) + " back";
  });
}

}  // namespace

const ActionKind kPhaseLost{"phase_lost",
                            TargetKind::supply,
                            "interrupts a phase of the supply, or all of it",
                            Duration{},
                            perform,
                            {},
                            mended,
                            mend};

}  // namespace emberline::faults
