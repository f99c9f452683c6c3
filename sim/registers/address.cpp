#include "sim/registers/address.hpp"

#include <array>
#include <charconv>
#include <cstdio>
#include <optional>

namespace emberline::registers {
namespace {

struct TableWords {
  char digit;  ///< first digit of a reference number
  std::string_view what;
};

TableWords words_of(modbus::Table table) {
  switch (table) {
    case modbus::Table::coils:
      return {'0', "a coil"};
    case modbus::Table::discrete_inputs:
      return {'1', "a discrete input"};
    case modbus::Table::input_registers:
      return {'3', "an input register"};
    case modbus::Table::holding_registers:
      return {'4', "a holding register"};
  }
  return {'4', "a holding register"};
}

std::optional<unsigned> whole_number(std::string_view text) {
  const bool hexadecimal = text.starts_with("0x") || text.starts_with("0X");
  const auto digits = hexadecimal ? text.substr(2) : text;
  unsigned number = 0;
  const auto* const end = digits.data() + digits.size();
  const auto [stop, error] = std::from_chars(digits.data(), end, number, hexadecimal ? 16 : 10);
  if (error != std::errc{} || stop != end) return std::nullopt;
  return number;
}

using Parsed = Result<std::uint16_t, std::string>;

Parsed parse_plain(std::string_view text, unsigned base) {
  const auto number = whole_number(text);
  if (number && *number >= base && *number - base <= 0xFFFFu)
    return static_cast<std::uint16_t>(*number - base);
  const std::string range = base == 0 ? "a zero-based address from 0 to 65535 (0xFFFF)"
                                      : "a one-based address from 1 to 65536 (0x10000)";
  return Failure{"expected " + range + ", found '" + std::string(text) + "'"};
}

Parsed parse_reference(std::string_view text, modbus::Table table) {
  const TableWords words = words_of(table);
  const auto failure = [text, words, d = std::string(1, words.digit)] {
    return Failure{"expected the reference number of " + std::string(words.what) + ", " + d + "0001 to " + d +
                   "9999 or " + d + "00001 to " + d + "65536, found '" + std::string(text) + "'"};
  };
  if ((text.size() != 5 && text.size() != 6) || text.front() != words.digit) return failure();
  const auto tail = text.substr(1);
  if (tail.find_first_not_of("0123456789") != std::string_view::npos) return failure();
  const auto number = whole_number(tail);
  if (!number || *number < 1 || *number > 0x10000u) return failure();
  return static_cast<std::uint16_t>(*number - 1);
}

}  // namespace

Result<std::uint16_t, std::string> parse_address(std::string_view text, Numbering numbering,
                                                 modbus::Table table) {
  switch (numbering) {
    case Numbering::zero_based:
      return parse_plain(text, 0);
    case Numbering::one_based:
      return parse_plain(text, 1);
    case Numbering::reference:
      return parse_reference(text, table);
  }
  return parse_plain(text, 0);
}

std::string reference_number(std::uint16_t address, modbus::Table table) {
  const unsigned number = address + 1u;
  std::array<char, 16> digits{};
  (void)std::snprintf(digits.data(), digits.size(), number <= 9999 ? "%04u" : "%05u", number);
  return words_of(table).digit + std::string(digits.data());
}

std::string hexadecimal(std::uint16_t address) {
  std::array<char, 8> text{};
  (void)std::snprintf(text.data(), text.size(), "0x%04X", static_cast<unsigned>(address));
  return text.data();
}

std::string both_ways(std::uint16_t address, modbus::Table table) {
  return hexadecimal(address) + " (" + reference_number(address, table) + ")";
}

}  // namespace emberline::registers
