#include "sim/io/tables/table_notes.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdio>
#include <tuple>

namespace emberline::io {
namespace {

using registers::Row;
using registers::Type;

std::string with_digits(double value, int digits) {
  std::array<char, 64> buffer{};
  const auto end =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::general, digits)
          .ptr;
  return {buffer.data(), end};
}

std::string renumbered(std::string_view what, const std::map<int, int>& numbers,
                       std::span<const registers::Word> words) {
  std::string text;
  for (const auto& [ours, carried] : numbers) {
    for (const auto& [word, number] : words)
      if (number == ours)
        text += (text.empty() ? "" : ", ") + std::string(word) + "=" + std::to_string(carried);
  }
  return text.empty() ? text : std::string(what) + " " + text;
}

std::string range_words(const Row& row) {
  const auto dimension = dimension_of(row);
  return format_quantity(row.range->first, dimension) + " to " +
         format_quantity(row.range->second, dimension);
}

/// How the registers carry it, beyond type and scale.
void add_layout(const Row& row, std::vector<std::string>& notes) {
  const auto& layout = row.layout;
  if (layout.type == Type::bits) notes.push_back("bits " + mask_words(layout.mask));
  if (layout.coding == registers::Coding::bcd) notes.emplace_back("decimal digits, four bits each (BCD)");
  if (layout.coding == registers::Coding::sign_magnitude) notes.emplace_back("highest bit is the sign");
  if (layout.type == Type::text) notes.push_back(std::to_string(layout.text_registers) + " registers");
  if (layout.type != Type::text && register_count(layout) > 1) {
    notes.emplace_back(layout.word_order == registers::WordOrder::high_first ? "high word first"
                                                                             : "low word first");
  }
  if (layout.byte_order == registers::ByteOrder::low_first) notes.emplace_back("low byte first");
  if (layout.broken) notes.push_back(format_number(*layout.broken) + " = no value");
}

void add_fixed(const Row& row, std::vector<std::string>& notes) {
  if (row.fixed) notes.push_back("always " + format_number(*row.fixed));
  if (row.layout.type == Type::text && !row.text) notes.push_back("always '" + row.fixed_text + "'");
}

/// All that says how a row carries its value; what may be done with it is another matter.
auto listed_as(const Row& row) {
  const auto& layout = row.layout;
  return std::tuple(layout.type, layout.scale, layout.word_order, layout.byte_order, layout.coding,
                    layout.mask, layout.text_registers, row.bit_position, row.flag, row.values, row.flags,
                    row.fixed, row.fixed_text);
}

}  // namespace

Dimension dimension_of(const Row& row) {
  return carries_point(row) ? point_info(row.point).dimension : Dimension::number;
}

std::string meaning_of(const Row& row) {
  if (carries_point(row)) {
    const auto& info = point_info(row.point);
    if (row.layout.type != Type::bit || info.flags.empty()) return std::string(info.meaning);
    const auto flag = flag_word(row);
    return flag.empty() ? "on if any of the " + std::string(info.name) + " is there"
                        : std::string(flag) + " of the " + std::string(info.name);
  }
  return row.text ? "what the unit says of itself" : "stated by the table";
}

std::string in_natural_unit(double value, Dimension dimension) {
  const double factor = natural_factor(dimension);
  const double natural = value == 0.0 ? 0.0 : value / factor;  // no minus in front of a nought
  // The quotient need not read back to the value; the number a table had was mostly a short one.
  constexpr int kShort = 15;
  constexpr int kLong = 17;
  for (int digits = kShort; digits <= kLong; ++digits) {
    auto text = with_digits(natural, digits);
    double read = 0.0;
    std::from_chars(text.data(), text.data() + text.size(), read);
    if (read * factor == value) return text;
  }
  return format_number(natural);
}

std::string scale_words(const Row& row) {
  if (row.layout.type == Type::bit || row.layout.type == Type::text) return "";
  const auto dimension = dimension_of(row);
  const auto number = in_natural_unit(row.layout.scale, dimension);
  const std::string unit(natural_unit(dimension));
  auto one = number == "1" ? "1 " + unit : format_quantity(row.layout.scale, dimension);
  // A float is no count of steps.
  if (row.layout.type == Type::f32 && number == "1") return unit.empty() ? "" : "in " + unit;
  if (row.layout.type == Type::f32) return "1.0 = " + (unit.empty() ? number : one);
  if (unit.empty()) return number == "1" ? "" : number;
  return one;
}

std::string address_words(const Row& row) {
  auto text = registers::hexadecimal(row.address);
  if (row.layout.type == Type::bit && !modbus::carries_bits(row.table))
    text += "." + std::to_string(row.bit_position);
  return text;
}

std::string long_reference(const Row& row) {
  const auto short_one = registers::reference_number(row.address, row.table);
  std::array<char, 16> digits{};
  (void)std::snprintf(digits.data(), digits.size(), "%05u", row.address + 1u);
  return short_one.front() + std::string(digits.data());
}

std::string mask_words(std::uint16_t mask) { return registers::hexadecimal(mask); }

std::string_view heading_of(modbus::Table table) {
  switch (table) {
    case modbus::Table::coils:
      return "Coils (function codes 01, 05, 0F, hexadecimal)";
    case modbus::Table::discrete_inputs:
      return "Discrete inputs (function code 02)";
    case modbus::Table::input_registers:
      return "Input registers (function code 04)";
    case modbus::Table::holding_registers:
      return "Holding registers (function codes 03, 06, 10, 16, 17, hexadecimal)";
  }
  return "";
}

std::string_view short_word_of(registers::Access access) {
  switch (access) {
    case registers::Access::read_only:
      return "read";
    case registers::Access::read_write:
      return "read/write";
    case registers::Access::write_only:
      return "write";
  }
  return "";
}

const std::vector<modbus::Table>& listing_order() {
  static const std::vector<modbus::Table> order{modbus::Table::holding_registers,
                                                modbus::Table::input_registers, modbus::Table::coils,
                                                modbus::Table::discrete_inputs};
  return order;
}

std::vector<CarriedWord> carried_values(const Row& row) {
  std::vector<CarriedWord> carried;
  if (!carries_point(row) || row.layout.type == Type::bit) return carried;
  for (const auto& [word, ours] : point_info(row.point).values) {
    const auto found = row.values.find(ours);
    carried.emplace_back(word, found == row.values.end() ? ours : found->second);
  }
  return carried;
}

std::vector<CarriedWord> carried_flags(const Row& row) {
  std::vector<CarriedWord> carried;
  if (!carries_point(row) || row.layout.type == Type::bit) return carried;
  for (const auto& [word, ours] : point_info(row.point).flags) {
    const auto found = row.flags.find(ours);
    if (row.flags.empty()) carried.emplace_back(word, ours);
    if (found != row.flags.end()) carried.emplace_back(word, found->second);
  }
  return carried;
}

std::string_view flag_word(const Row& row) {
  if (!row.flag || !carries_point(row)) return {};
  for (const auto& [word, number] : point_info(row.point).flags)
    if (number == *row.flag) return word;
  return {};
}

std::string notes_of(const Row& row) {
  std::vector<std::string> notes;
  const auto flag = flag_word(row);
  if (!flag.empty()) notes.push_back("1 = " + std::string(flag));
  add_fixed(row, notes);
  if (row.range) notes.push_back(range_words(row));
  add_layout(row, notes);
  if (row.write_mask) notes.push_back("a write changes bits " + mask_words(*row.write_mask));
  if (row.split_refused) notes.emplace_back("only whole");
  if (row.kept) notes.emplace_back("kept: do not write it cyclically");
  if (carries_point(row)) {
    notes.push_back(renumbered("values", row.values, point_info(row.point).values));
    notes.push_back(renumbered("bits", row.flags, point_info(row.point).flags));
  }
  notes.push_back(meaning_of(row));
  std::string text;
  for (const auto& note : notes)
    if (!note.empty()) text += (text.empty() ? "" : "; ") + note;
  return text;
}

std::vector<std::string> listed_cells(const Row& row) {
  return {address_words(row),
          std::to_string(row.address),
          registers::reference_number(row.address, row.table),
          std::string(name_of(row)),
          std::string(to_word(row.layout.type)),
          scale_words(row),
          std::string(short_word_of(row.access)),
          notes_of(row)};
}

const std::vector<std::string>& listed_heads() {
  static const std::vector<std::string> heads{"address", "",      "reference", "point",
                                              "as",      "scale", "access",    "notes"};
  return heads;
}

bool input_is_holding(const registers::RegisterTable& table) {
  std::vector<const Row*> input;
  std::vector<const Row*> holding;
  for (const auto& row : table.rows()) {
    if (row.table == modbus::Table::input_registers) input.push_back(&row);
    if (row.table == modbus::Table::holding_registers) holding.push_back(&row);
  }
  const auto same = [](const Row* a, const Row* b) {
    return a->address == b->address && name_of(*a) == name_of(*b) && listed_as(*a) == listed_as(*b);
  };
  return !input.empty() && std::equal(input.begin(), input.end(), holding.begin(), holding.end(), same);
}

const std::vector<std::string>& address_legend() {
  static const std::vector<std::string> legend{
      "Every address stands three ways. The zero-based one, hexadecimal and decimal, is what goes over the "
      "line. The reference number has the kind in its first digit (0 coil, 1 discrete input, 3 input "
      "register, 4 holding register) and counts from 1: 0x0030 is 48 and 40049. The same stands as 400049 in "
      "CSV and JSON, which write all six digits.",
      "Easily one off: some function blocks want 48 here, some 49, some 40049. Before anything is "
      "commissioned, read a value you know, such as a state or a voltage, and see that it is that one and "
      "not "
      "its neighbour.",
      "A scale is what one count stands for: 500 counts of 0.1 % are 50 %; a float (f32) is no count, and "
      "its "
      "scale says what 1.0 is, or its unit. A value of several registers stands with its high or its low "
      "word at the lower address; the notes say which."};
  return legend;
}

std::string_view list_caution() {
  return "These are the registers of a simulated unit. Compare every address, scale and range with the "
         "documentation of the real one before a program commands real heat. A comms watchdog, an enable "
         "input or a latch is neither a safety function nor an emergency stop, and a thyristor that is off "
         "does not isolate.";
}

}  // namespace emberline::io
