#include "sim/faults/supply/phase_lost.hpp"

#include <algorithm>
#include <array>
#include <vector>

#include "sim/base/listed.hpp"
#include "sim/faults/action_plant.hpp"

namespace emberline::faults {
namespace {

/// Whether a single-phase load of a three-phase supply hangs on this phase.
bool hangs_on(plant::Across across, std::size_t phase) {
  switch (across) {
    case plant::Across::l1_n:
      return phase == 0;
    case plant::Across::l2_n:
      return phase == 1;
    case plant::Across::l3_n:
      return phase == 2;
    case plant::Across::l1_l2:
      return phase != 2;
    case plant::Across::l2_l3:
      return phase != 0;
    case plant::Across::l3_l1:
      return phase != 1;
  }
  return false;
}

/// What becomes of the loads when a phase of three is lost, `open` being all that are.
std::string consequence(const bench::BenchSpec& spec, std::size_t phase, const std::array<bool, 3>& open) {
  bool without_neutral = false;
  bool star = false;
  bool single = false;
  for (const auto& entry : spec.units) {
    const auto connection = entry.load.connection;
    if (connection == plant::Connection::star_4_wire)
      star = true;
    else if (connection == plant::Connection::single_phase)
      single = single || hangs_on(entry.load.across, phase);
    else
      without_neutral = true;
  }
  std::vector<std::string> clauses;
  const bool pair_left = std::count(open.begin(), open.end(), true) == 1;
  if (without_neutral)
    clauses.emplace_back(pair_left ? "loads without neutral run on what is left between the others"
                                   : "loads without neutral have no power");
  if (star) clauses.emplace_back("stars with neutral lose one leg");
  if (single) clauses.emplace_back("single-phase loads on it have no power");
  return clauses.empty() ? "no load hangs on it" : listed(clauses);
}

void perform(bench::Bench& bench, const Action& action, SimTime at) {
  alter_supply(bench, action.target, at, [&](plant::SupplyState& state) {
    const auto& spec = bench.spec();
    const auto phases = phases_of(spec, action.target);
    for (const auto phase : phases) state.open[phase] = true;
    const std::string which = phases_in_words(spec, action.target);
    if (spec.supply.system == plant::System::single_phase) return which + " is away: no load has any power";
    const bool all = std::count(state.open.begin(), state.open.end(), true) == 3;
    return which +
           " lost: " + (all ? "no load has any power" : consequence(spec, phases.front(), state.open));
  });
}

bool mend(bench::Bench& bench, const Target& target, SimTime at) {
  return alter_supply(bench, target, at, [&](plant::SupplyState& state) {
    for (const auto phase : phases_of(bench.spec(), target)) state.open[phase] = false;
    const std::string which = phases_in_words(bench.spec(), target);
    return which + (bench.spec().supply.system == plant::System::single_phase ? " is back" : " back");
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
