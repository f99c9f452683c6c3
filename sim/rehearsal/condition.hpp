#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "sim/bench/signal.hpp"

namespace emberline::rehearsal {

/// A comparison of one signal (or one written value) with a constant.
struct Condition {
  /// How the signal stands to `a` and `b`; include and exclude are for bits.
  enum class Comparator : std::uint8_t {
    equals,
    not_equal,
    above,
    below,
    at_least,
    at_most,
    between,
    near,
    include,
    exclude,
  };
  std::string name;  ///< of the signal, as written
  bench::SignalId signal;
  bench::SignalInfo info;
  Comparator comparator = Comparator::equals;
  double a = 0.0;  ///< SI; between: lower end; near: the value; include/exclude: bit mask
  double b = 0.0;  ///< between: upper end; near: tolerance
};

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
