#pragma once

#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <boost/json/value.hpp>

#include "sim/base/sim_time.hpp"

namespace emberline::io {

/// A place in a JSON document that was read from outside. What is missing or of another kind is noted once,
/// with its path, and reads as nothing: whoever reads goes on and looks at the complaint at the end.
class JsonCursor {
 public:
  /// `complaint` stays empty while all is well.
  JsonCursor(const boost::json::value* value, std::string path, std::string& complaint)
      : value_(value), path_(std::move(path)), complaint_(&complaint) {}

  /// The value under a key of an object.
  [[nodiscard]] JsonCursor operator[](std::string_view key) const;
  /// Whether an object has a key; for those that came later, which older documents lack.
  [[nodiscard]] bool has(std::string_view key) const;
  /// The values of an array; none of anything else.
  [[nodiscard]] std::vector<JsonCursor> items() const;
  /// The values of an object, with their keys.
  [[nodiscard]] std::vector<std::pair<std::string, JsonCursor>> members() const;
  /// One line: blanks stand for control characters, which nothing of ours has. Texts end up on terminals.
  [[nodiscard]] std::string text() const;
  /// The same of several lines.
  [[nodiscard]] std::string lines() const;
  /// A text that a file may be named by: it stays in its folder, and there is no control character in it.
  [[nodiscard]] std::string file_stem() const;
  [[nodiscard]] std::vector<std::string> texts() const;
  [[nodiscard]] bool flag() const;
  /// To as many digits as json_number() writes.
  [[nodiscard]] double number() const;
  /// null is NaN.
  [[nodiscard]] double number_or_nan() const;
  [[nodiscard]] bool is_null() const;
  template <class Whole>
  void whole(Whole& into) const {
    into = static_cast<Whole>(whole_up_to(static_cast<std::uint64_t>(std::numeric_limits<Whole>::max())));
  }
  /// From seconds, 0 to a thousand days.
  [[nodiscard]] Duration duration() const;
  [[nodiscard]] SimTime instant() const { return SimTime{duration()}; }
  void complain(std::string_view expected) const;

 private:
  [[nodiscard]] double as_read() const;
  [[nodiscard]] std::uint64_t whole_up_to(std::uint64_t most) const;

  const boost::json::value* value_;  ///< null behind a complaint
  std::string path_;
  std::string* complaint_;
};

}  // namespace emberline::io
