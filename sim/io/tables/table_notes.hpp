#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/base/quantity.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::io {

/// What a row's numbers measure; of text and fixed rows a plain number.
[[nodiscard]] Dimension dimension_of(const registers::Row& row);
/// The row's point in a few words: "RMS through the load, phase 1".
[[nodiscard]] std::string meaning_of(const registers::Row& row);

/// An SI value in the natural unit of its dimension, the shortest number that reads back to the same value;
/// without the unit.
[[nodiscard]] std::string in_natural_unit(double value, Dimension dimension);
/// What one count is, for people: "0.1 %", "10 W", "1 kWh"; of a float "in degC", or "1.0 = 100 %"; empty
/// where it is a plain number or a bit.
[[nodiscard]] std::string scale_words(const registers::Row& row);

/// "0x0030", or "0x0030.3" for a bit of a register.
[[nodiscard]] std::string address_words(const registers::Row& row);
/// The reference number with all six digits: "400049".
[[nodiscard]] std::string long_reference(const registers::Row& row);
/// "0x00F0".
[[nodiscard]] std::string mask_words(std::uint16_t mask);

/// "Holding registers (function codes 03, 06, 10, 16, 17, hexadecimal)".
[[nodiscard]] std::string_view heading_of(modbus::Table table);
/// "read", "read/write", "write".
[[nodiscard]] std::string_view short_word_of(registers::Access access);
/// The four kinds in the order of listings, the most used first.
[[nodiscard]] const std::vector<modbus::Table>& listing_order();

/// A word and the number, or bit, it has in the register.
using CarriedWord = std::pair<std::string_view, int>;
/// Every word of an enumeration with the number the row carries for it; none for other rows.
[[nodiscard]] std::vector<CarriedWord> carried_values(const registers::Row& row);
/// Every flag that the row carries in a whole register, with its bit; none for other rows.
[[nodiscard]] std::vector<CarriedWord> carried_flags(const registers::Row& row);
/// The flag a row of type bit stands for; empty for others.
[[nodiscard]] std::string_view flag_word(const registers::Row& row);

/// What else there is to say of a row, in one line for people.
[[nodiscard]] std::string notes_of(const registers::Row& row);
/// A row of a listing for people: address, decimal, reference, point, type, scale, access, notes.
[[nodiscard]] std::vector<std::string> listed_cells(const registers::Row& row);
/// The heads of these columns.
[[nodiscard]] const std::vector<std::string>& listed_heads();

/// True if input and holding registers of the table are the same.
[[nodiscard]] bool input_is_holding(const registers::RegisterTable& table);

/// How to read the addresses, and the step that is easily one off; a paragraph each, without marks.
[[nodiscard]] const std::vector<std::string>& address_legend();
/// What to bear in mind before a program is written from such a list.
[[nodiscard]] std::string_view list_caution();

}  // namespace emberline::io
