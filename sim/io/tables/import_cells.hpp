#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/base/quantity.hpp"
#include "sim/base/result.hpp"
#include "sim/io/files/table_mapping_file.hpp"

namespace emberline::io {

// Single cells of somebody else's table, in the ways they are commonly written.

/// Without blanks (no-break ones too) around it.
[[nodiscard]] std::string trimmed(std::string_view text);

/// A plain number: "10", "-0.5", "0,1" (a comma for the point), "1e-3", "0x10".
[[nodiscard]] std::optional<double> plain_number(std::string_view text);
/// Why a number in a cell is not taken: "1,000" may be a thousand, or 1 with three decimals. Empty if that is
/// not it.
[[nodiscard]] std::string why_two_numbers(std::string_view text);
/// A whole number, not negative: "12", "0x0C", "16#C", "0b1100".
[[nodiscard]] std::optional<std::uint32_t> whole_number_of(std::string_view text);

/// An address as written.
struct AddressCell {
  std::string text;              ///< of the first register, as parse_address takes it
  std::optional<int> registers;  ///< of "40001-40002"
  std::optional<int> bit;        ///< of "40003.5"
};
/// The error says what was expected.
[[nodiscard]] Result<AddressCell, std::string> address_cell(std::string_view text, AddressHabit habit,
                                                            bool bit_allowed);

/// A unit of measure, with how much of our internal unit one of it is: "kW" is power, 1000.
struct UnitCell {
  Dimension dimension = Dimension::number;
  double factor = 1.0;
  std::string text;  ///< as files of ours write it: "kW"

  /// How much of our internal unit one of `text` is, without a factor in front: 1 of "0.1 A".
  [[nodiscard]] double of_word() const;
  /// The number in front: 0.1 of "0.1 A".
  [[nodiscard]] double own_factor() const { return factor / of_word(); }
};
/// "degC", "°C", "kW", "mA", "Vrms", "x 0.1 A"; the error names a unit that cannot be carried. Nothing, which
/// is a number, for "", "-" and "1".
[[nodiscard]] Result<std::optional<UnitCell>, std::string> unit_cell(std::string_view text);

/// A name and the unit behind it in brackets: "Load current [A]".
[[nodiscard]] std::pair<std::string, std::optional<UnitCell>> unit_in_name(const std::string& name);

/// A scale with a unit that may stand beside it: "0.1", "1/10", "x10", "10 W".
struct ScaleCell {
  double number = 1.0;  ///< value = number carried * this, in the unit
  std::optional<UnitCell> unit{};
  bool odd_divisor = false;  ///< it was divided by a number below 1
};
[[nodiscard]] Result<ScaleCell, std::string> scale_cell(std::string_view text, ScaleHabit habit);

/// "0..100", "0 - 100 %", "-40 to 150": both ends in what stands there, and the unit if one does.
struct RangeCell {
  double lowest = 0.0;
  double highest = 0.0;
  std::optional<UnitCell> unit{};
};
[[nodiscard]] std::optional<RangeCell> range_cell(std::string_view text);
/// One end of a range, with a unit of its own if it has one: "24 h".
struct EndCell {
  double number = 0.0;
  std::optional<UnitCell> unit{};
};
[[nodiscard]] std::optional<EndCell> end_cell(std::string_view text);

/// Bits as a mask: "5", "bit 5", "b5", "4-7" or, as masks, "0x0020", "0b100000". `hexadecimal`: a mask is so
/// without a mark too, and "b5" is one.
[[nodiscard]] std::optional<std::uint16_t> bit_cell(std::string_view text);
[[nodiscard]] std::optional<std::uint16_t> mask_cell(std::string_view text, bool hexadecimal = false);

/// One entry of an enumeration or of a list of bits.
struct Labelled {
  int number = 0;
  std::string label;
  bool is_bit = false;       ///< "bit 3: ..."
  bool hexadecimal = false;  ///< "0x08: ...": the number, or a mask in a list of bits
};
inline constexpr std::size_t kMostLabels = 256;  ///< entries of one cell
/// Makes bits of the hexadecimal numbers, as of masks. False, and nothing is done: one of them is no single
/// bit. 0, of which no bit is, stays.
bool hexadecimal_to_bits(std::vector<Labelled>& entries);
/// "0=off;1=run", "0: Stopped, 1: Running", "running=10 tripped=7", "bit 0: Overload". What is no entry is
/// told in `unread`, a line each.
[[nodiscard]] std::vector<Labelled> labelled_cell(std::string_view text, std::vector<std::string>& unread);

}  // namespace emberline::io
