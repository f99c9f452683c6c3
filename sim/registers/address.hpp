#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "sim/base/result.hpp"
#include "sim/modbus/pdu.hpp"

namespace emberline::registers {

/// How addresses are written in a register table.
enum class Numbering : std::uint8_t { zero_based, one_based, reference };

/// Reads an address as written ("0x0030", "48", "40049", "400049") into a zero-based one. Reference numbers
/// (5 or 6 digits) carry the table in their first digit (0 coils, 1 discrete inputs, 3 input, 4 holding
/// registers) and must agree with `table`. The error names the range that was expected.
[[nodiscard]] Result<std::uint16_t, std::string> parse_address(std::string_view text, Numbering numbering,
                                                               modbus::Table table);

/// "0x0030": a zero-based address.
[[nodiscard]] std::string hexadecimal(std::uint16_t address);
/// "40049" ("4" + 5 digits where 9999 is passed): the reference number of a zero-based address.
[[nodiscard]] std::string reference_number(std::uint16_t address, modbus::Table table);
/// Both ways of writing it: "0x0030 (40049)". For messages and listings.
[[nodiscard]] std::string both_ways(std::uint16_t address, modbus::Table table);

}  // namespace emberline::registers
