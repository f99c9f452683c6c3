#pragma once

#include <optional>
#include <string>

#include "sim/rehearsal/scenario_spec.hpp"

namespace emberline::rehearsal {

/// Whether `value` (SI) satisfies the condition. Equality allows for the rounding of arithmetic, nothing
/// more. A value that is not a number satisfies only `not`.
[[nodiscard]] bool holds(const Condition& condition, double value);

/// "soak-heater.load_power above 11 kW": what was expected, in words.
[[nodiscard]] std::string describe(const Condition& condition);
/// The same without the signal's name: "above 11 kW".
[[nodiscard]] std::string describe_expected(const Condition& condition);

/// When a written value misses what was expected by a power of ten, says so: "a tenth of what was expected:
/// wrong by a factor of 10". Nothing if it is no such mistake.
[[nodiscard]] std::optional<std::string> scaling_hint(const Condition& condition, double asked);

}  // namespace emberline::rehearsal
