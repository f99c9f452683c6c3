#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/faults/action.hpp"
#include "sim/faults/mend.hpp"

namespace emberline::faults {

// What the words for faults of supply, load and power stage have in common.

/// Phases of the supply that a target means.
[[nodiscard]] std::vector<std::size_t> phases_of(const bench::BenchSpec& spec, const Target& target);
/// "phase l2", "the supply", "all three phases", for sentences.
[[nodiscard]] std::string phases_in_words(const bench::BenchSpec& spec, const Target& target);
/// "supply.l2", "supply": whom the journal speaks of.
[[nodiscard]] std::string supply_name(const Target& target);

/// Legs of a unit that a target means.
[[nodiscard]] std::vector<std::size_t> legs_of(const bench::BenchSpec& spec, const Target& target);
/// "heater.l1", "heater" when it has but one leg.
[[nodiscard]] std::string leg_name(const bench::BenchSpec& spec, const Target& target, std::size_t leg);
/// Whether a target means the forward (or else the backward) thyristor of its pairs.
[[nodiscard]] inline bool means(const Target& target, bool forward) {
  return target.side == Side::both || (target.side == Side::forward) == forward;
}
/// "forward thyristor", "both thyristors".
[[nodiscard]] std::string side_in_words(Side side);

/// Lets `change` alter the state of every leg that is meant and say in a sentence what it did; legs that stay
/// as they are are not spoken of. True if any was altered.
template <class Change>
bool alter_legs(bench::Bench& bench, const Target& target, SimTime at, Change change) {
  bool any = false;
  for (const std::size_t leg : legs_of(bench.spec(), target)) {
    auto state = bench.leg_state(target.index, leg);
    std::string sentence = change(state, leg);
    if (state == bench.leg_state(target.index, leg)) continue;
    bench.change_leg(target.index, leg, state, at, leg_name(bench.spec(), target, leg), std::move(sentence));
    any = true;
  }
  return any;
}

/// The same of the supply, which is altered in one go. `change` gets the whole state.
template <class Change>
bool alter_supply(bench::Bench& bench, const Target& target, SimTime at, Change change) {
  auto state = bench.supply_state();
  std::string sentence = change(state);
  if (state == bench.supply_state()) return false;
  bench.change_supply(state, at, supply_name(target), std::move(sentence));
  return true;
}

}  // namespace emberline::faults
