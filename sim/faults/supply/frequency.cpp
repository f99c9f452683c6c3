#include "sim/faults/supply/frequency.hpp"

#include "sim/base/quantity.hpp"
#include "sim/faults/action_plant.hpp"

namespace emberline::faults {
namespace {

constexpr ActionKey kKeys[] = {{.key = "to",
                                .kind = ActionKey::Kind::frequency,
                                .fallback = std::nullopt,
                                .meaning = "what it is then",
                                .least = 10.0,
                                .most = 1000.0}};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  alter_supply(bench, action.target, at, [&](plant::SupplyState& state) {
    state.frequency_Hz = action.value("to");
    return "frequency goes to " + format_quantity(state.frequency_Hz, Dimension::frequency);
  });
}

bool mend(bench::Bench& bench, const Target& target, SimTime at) {
  return alter_supply(bench, target, at, [&](plant::SupplyState& state) {
    state.frequency_Hz = bench.spec().supply.frequency_Hz;
    return "frequency is " + format_quantity(state.frequency_Hz, Dimension::frequency) + " again";
  });
}

std::string refusal(const bench::BenchSpec&, const Action& action) {
  return action.target.part ? "all phases have one frequency: expected 'supply'" : "";
}

}  // namespace

const ActionKind kFrequency{"frequency",
                            TargetKind::supply,
                            "changes the frequency of the supply",
                            Duration{},
                            perform,
                            kKeys,
                            mended,
                            mend,
                            refusal};

}  // namespace emberline::faults
