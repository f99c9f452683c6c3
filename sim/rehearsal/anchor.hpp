#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/sim_time.hpp"
#include "sim/faults/action.hpp"
#include "sim/rehearsal/condition.hpp"

namespace emberline::rehearsal {

/// A moment that expectations and entries of the timeline hang on. One of `at`, `action_word`, `entry`,
/// `conditions` and `expectation` says which.
struct Anchor {
  std::optional<SimTime> at;  ///< a time: "10 s"
  std::string action_word;    ///< the n-th entry of the timeline that does this: "cut"
  faults::Target action_target;
  std::optional<std::size_t> entry;   ///< this entry of ScenarioSpec::timeline (by its name, or what ends it)
  std::vector<Condition> conditions;  ///< the n-th instant at which all of them come to hold; holding at the
                                      ///< start of the run counts as the first
  std::string expectation;            ///< the instant at which the expectation of this name was met
  int nth = 1;
  Duration plus{};   ///< so long after the moment itself
  std::string text;  ///< for messages: "cut field", "10 s", "soak.measured above 540 degC"
};

}  // namespace emberline::rehearsal
