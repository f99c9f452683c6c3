#include "sim/faults/load/ageing.hpp"

#include "sim/base/quantity.hpp"
#include "sim/faults/action_plant.hpp"

namespace emberline::faults {
namespace {

constexpr ActionKey kKeys[] = {{.key = "to",
                                .kind = ActionKey::Kind::percentage,
                                .fallback = std::nullopt,
                                .meaning = "their resistance as a share of that of new ones",
                                .least = 0.01,
                                .most = 100.0}};

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  const double to = action.value("to");
  alter_legs(bench, action.target, at, [&](plant::LegState& state, std::size_t) {
    state.ageing = to;
    return "elements have " + format_quantity(to, Dimension::ratio) + " of the resistance of new ones";
  });
}

bool mend(bench::Bench& bench, const Target& target, SimTime at) {
  const auto& load = bench.spec().units.at(target.index).load;
  return alter_legs(bench, target, at, [&](plant::LegState& state, std::size_t leg) {
    state.ageing = load.ageing.at(leg);
    return "elements are as old as at the start: " + format_quantity(state.ageing, Dimension::ratio) +
           " of the resistance of new ones";
  });
}

}  // namespace

const ActionKind kAgeing{"ageing",
                         TargetKind::leg,
                         "changes the resistance of the elements of a leg",
                         Duration{},
                         perform,
                         kKeys,
                         mended,
                         mend};

}  // namespace emberline::faults
