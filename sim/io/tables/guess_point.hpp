#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/quantity.hpp"
#include "sim/io/files/table_mapping_file.hpp"

namespace emberline::io {

// Which value of ours somebody else's name means. A guess is made only where one point is left that goes by
// these words and is measured in this unit; it stays a guess, and is shown as one.

/// What a name may mean.
struct PointGuess {
  std::vector<MappedPoint> candidates;  ///< one: that is it; several: it could be any of them
  std::vector<MappedPoint> other_unit;  ///< those that go by this name and are measured in another unit
};
/// The words of a candidate: "load_current_l1", "warnings.comms-loss".
[[nodiscard]] std::string words_of(const MappedPoint& point);
/// "load_current, line_current".
[[nodiscard]] std::string words_of(const std::vector<MappedPoint>& points);

/// A point by its own word, exactly: "load_current_l1", "warnings.comms-loss".
[[nodiscard]] std::optional<MappedPoint> point_by_own_word(std::string_view name);

/// A point by name and unit; `unit` nothing: none is stated, and any will do.
[[nodiscard]] PointGuess guess_point(std::string_view name, std::optional<Dimension> unit);

/// A warning or trip by the name of a bit. `of` is the name of the register it stands in, or empty: which of
/// the two is meant may be said there.
[[nodiscard]] PointGuess guess_flag(std::string_view name, std::string_view of);

/// Our number for a label of an enumeration of this point, such as "Run" of state; nothing if none or
/// several could be meant.
[[nodiscard]] std::optional<int> guess_value(registers::Point point, std::string_view label);

}  // namespace emberline::io
