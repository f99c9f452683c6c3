#include "sim/faults/supply/dip.hpp"

#include "sim/base/quantity.hpp"
#include "sim/faults/action_plant.hpp"

namespace emberline::faults {
namespace {

constexpr ActionKey kKeys[] = {{.key = "to",
                                .kind = ActionKey::Kind::percentage,
                                .fallback = std::nullopt,
                                .meaning = "the share of its voltage that is left; above 100 % it swells",
                                .least = 0.0,
                                .most = 2.0}};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const double to = action.value("to");
  alter_supply(bench, action.target, at, [&](plant::SupplyState& state) {
    for (const auto phase : phases_of(bench.spec(), action.target)) state.share[phase] = to;
    return "voltage of " + phases_in_words(bench.spec(), action.target) +
           (to > 1.0 ? " swells to " : " dips to ") + format_quantity(to, Dimension::ratio) +
           ": the power of a load goes with its square";
  });
}

bool mend(bench::Bench& bench, const Target& target, SimTime at) {
  return alter_supply(bench, target, at, [&](plant::SupplyState& state) {
    for (const auto phase : phases_of(bench.spec(), target)) state.share[phase] = 1.0;
    return "voltage of " + phases_in_words(bench.spec(), target) + " is what it was";
  });
}

}  // namespace

const ActionKind kDip{"dip",
                      TargetKind::supply,
                      "changes the voltage of the supply, or of one phase: a dip or a swell",
                      Duration{},
                      perform,
                      kKeys,
                      mended,
                      mend};

}  // namespace emberline::faults
