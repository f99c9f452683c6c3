#pragma once

#include <concepts>
#include <optional>
#include <string>
#include <string_view>

#include "sim/base/sim_time.hpp"

namespace emberline::io {

/// A finite number with 15 significant digits: so many come back the same from readers that do not round
/// exactly.
[[nodiscard]] std::string json_number(double value);

/// Writes JSON (RFC 8259) piece by piece; commas come by themselves. Numbers as json_number(), times as the
/// shortest text that reads back to the same seconds; what is not a number is null.
class JsonText {
 public:
  JsonText& object();
  JsonText& end_object();
  JsonText& array();
  JsonText& end_array();
  /// The key of what comes next.
  JsonText& key(std::string_view name);
  /// A line break before what comes next, for people and line-wise comparison.
  JsonText& line();
  JsonText& text(std::string_view value);
  /// Nothing: null.
  JsonText& text_or_null(const std::optional<std::string>& value) { return value ? text(*value) : null(); }
  /// As json_number(); null if it is not finite.
  JsonText& number(double value);
  template <std::integral Whole>
  JsonText& whole(Whole value) {
    return plain(std::to_string(value));
  }
  JsonText& flag(bool value) { return plain(value ? "true" : "false"); }
  JsonText& null() { return plain("null"); }
  /// Seconds.
  JsonText& time(SimTime at) { return time(at.time_since_epoch()); }
  JsonText& time(Duration duration);

  [[nodiscard]] std::string finished() && { return std::move(text_); }

 private:
  JsonText& plain(std::string_view value);
  void before_value();

  std::string text_;
  bool comma_ = false;
  bool line_ = false;
};

}  // namespace emberline::io
