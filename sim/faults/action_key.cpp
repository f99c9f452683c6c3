#include "sim/faults/action_key.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/base/listed.hpp"
#include "sim/base/quantity.hpp"

namespace emberline::faults {
namespace {

using Kind = ActionKey::Kind;

Failure<std::string> refuse(const ActionKey& key, const std::string& expected, std::string_view found) {
  return Failure{"'" + std::string(key.key) + "': expected " + expected + ", found '" + std::string(found) +
                 "'"};
}

/// A quantity between the key's limits.
Result<double, std::string> parse_between(const ActionKey& key, Dimension dimension, const char* what,
                                          std::string_view text) {
  const auto value = parse_quantity(text, dimension);
  if (value && *value >= key.least && *value <= key.most) return *value;
  return refuse(key,
                std::string(what) + " from " + format_quantity(key.least, dimension) + " to " +
                    format_quantity(key.most, dimension),
                text);
}

Result<double, std::string> parse_word(const ActionKey& key, std::string_view text) {
  const auto found = std::find(key.words.begin(), key.words.end(), text);
  if (found != key.words.end()) return static_cast<double>(found - key.words.begin());
  if (const auto hint = key.hint != nullptr ? key.hint(text) : ""; !hint.empty())
    return Failure{"'" + std::string(key.key) + "': " + hint};
  return refuse(key, "one of " + listed({key.words.begin(), key.words.end()}), text);
}

Result<double, std::string> parse_number(const ActionKey& key, std::string_view text) {
  const bool whole = key.kind == Kind::whole;
  const double least = whole ? key.least : 0.0;
  const double most = whole ? key.most : 1.0;
  const auto value = parse_quantity(text, Dimension::number);
  if (value && *value >= least && *value <= most && (!whole || *value == std::floor(*value))) return *value;
  return refuse(key,
                std::string(whole ? "a whole number" : "a number") + " from " + format_number(least) +
                    " to " + format_number(most),
                text);
}

}  // namespace

const ActionKey kFor{"for", Kind::duration, -1.0, "it is taken back after so long"};

Result<double, std::string> parse_action_value(const ActionKey& key, std::string_view text) {
  switch (key.kind) {
    case Kind::word:
      return parse_word(key, text);
    case Kind::whole:
    case Kind::rate:
      return parse_number(key, text);
    case Kind::duration: {
      constexpr double kLongest_s = 1e7;  // some months: sums of times stay exact
      const auto value = parse_quantity(text, Dimension::time);
      if (!value) return refuse(key, "a time such as '200 ms'", text);
      if (*value > 0.0 && *value <= kLongest_s) return *value;
      const bool may_be_none = key.fallback == 0.0;
      if (*value == 0.0 && may_be_none) return 0.0;
      return refuse(key, may_be_none ? "a time of 0 s or more" : "a time above 0 s", text);
    }
    case Kind::percentage:
      return parse_between(key, Dimension::ratio, "a percentage", text);
    case Kind::frequency:
      return parse_between(key, Dimension::frequency, "a frequency", text);
    case Kind::difference:
      return parse_between(key, Dimension::temperature_difference, "a temperature difference", text);
    case Kind::share: {
      const auto value = parse_quantity(text, Dimension::ratio);
      if (value && *value >= 0.0 && *value <= 1.0) return *value;
      return refuse(key, "a share from 0 % to 100 %", text);
    }
  }
  return refuse(key, "a value", text);
}

}  // namespace emberline::faults
