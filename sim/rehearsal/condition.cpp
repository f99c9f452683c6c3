#include "sim/rehearsal/condition.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>

namespace emberline::rehearsal {
namespace {

using Comparator = Condition::Comparator;

/// Room for the last bits of a unit conversion; far below anything a register can carry.
double slack(double a, double b) { return 1e-9 * std::max({1.0, std::abs(a), std::abs(b)}); }

std::string shown(const Condition& condition, double value) {
  return bench::describe_value(condition.info, value);
}

/// The number a written value is held against, when there is one.
std::optional<double> expected_value(const Condition& condition) {
  switch (condition.comparator) {
    case Comparator::equals:
    case Comparator::near:
    case Comparator::at_least:
    case Comparator::at_most:
    case Comparator::above:
    case Comparator::below:
      return condition.a;
    case Comparator::between:
      return (condition.a + condition.b) / 2;
    default:
      return std::nullopt;
  }
}

}  // namespace

bool holds(const Condition& condition, double value) {
  const double a = condition.a;
  const double b = condition.b;
  switch (condition.comparator) {
    case Comparator::equals:
      return std::abs(value - a) <= slack(value, a);
    case Comparator::not_equal:
      return !(std::abs(value - a) <= slack(value, a));
    case Comparator::above:
      return value > a;
    case Comparator::below:
      return value < a;
    case Comparator::at_least:
      return value >= a - slack(value, a);
    case Comparator::at_most:
      return value <= a + slack(value, a);
    case Comparator::between:
      return value >= a - slack(value, a) && value <= b + slack(value, b);
    case Comparator::near:
      return std::abs(value - a) <= b + slack(value, a);
    case Comparator::include: {
      const auto mask = static_cast<std::uint32_t>(a);
      return std::isfinite(value) && (static_cast<std::uint32_t>(value) & mask) == mask;
    }
    case Comparator::exclude:
      return std::isfinite(value) && (static_cast<std::uint32_t>(value) & static_cast<std::uint32_t>(a)) == 0;
  }
  return false;
}

std::string describe_expected(const Condition& condition) {
  std::string a = shown(condition, condition.a);
  switch (condition.comparator) {
    case Comparator::equals:
      return a;
    case Comparator::not_equal:
      return "not " + a;
    case Comparator::above:
      return "above " + a;
    case Comparator::below:
      return "below " + a;
    case Comparator::at_least:
      return "at least " + a;
    case Comparator::at_most:
      return "at most " + a;
    case Comparator::between:
      return "between " + a + " and " + shown(condition, condition.b);
    case Comparator::near:
      return "within " + shown(condition, condition.b) + " of " + a;
    case Comparator::include:
      return "with " + a;
    case Comparator::exclude:
      return "without " + a;
  }
  return {};
}

std::string describe(const Condition& condition) {
  return condition.name + " " + describe_expected(condition);
}

std::optional<std::string> scaling_hint(const Condition& condition, double asked) {
  const auto expected = expected_value(condition);
  if (!expected || *expected == 0.0 || asked == 0.0) return std::nullopt;
  const double ratio = asked / *expected;
  // A band of 2 % tells a slip of the decimal point from a value that merely happens to be far off.
  constexpr double kBand = 0.02;
  struct Slip {
    double ratio;
    const char* words;
  };
  constexpr std::array slips{
      Slip{10, "ten times what was expected: wrong by a factor of 10"},
      Slip{100, "a hundred times what was expected: wrong by a factor of 100"},
      Slip{1000, "a thousand times what was expected: wrong by a factor of 1000"},
      Slip{0.1, "a tenth of what was expected: wrong by a factor of 10"},
      Slip{0.01, "a hundredth of what was expected: wrong by a factor of 100"},
      Slip{0.001, "a thousandth of what was expected: wrong by a factor of 1000"},
  };
  for (const auto& slip : slips)
    if (std::abs(ratio / slip.ratio - 1.0) <= kBand) return slip.words;
  return std::nullopt;
}

}  // namespace emberline::rehearsal
