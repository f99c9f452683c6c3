#include "sim/registers/address.hpp"

#include <string>

#include <doctest/doctest.h>

namespace emberline::registers {
namespace {

using modbus::Table;

TEST_CASE("an address means the same register however it is written") {
  const struct {
    const char* text;
    Numbering numbering;
    Table table;
    int address;
  } rows[] = {
      {"0", Numbering::zero_based, Table::holding_registers, 0},
      {"48", Numbering::zero_based, Table::holding_registers, 0x30},
      {"0x0030", Numbering::zero_based, Table::holding_registers, 0x30},
      {"0XfFfF", Numbering::zero_based, Table::coils, 0xFFFF},
      {"65535", Numbering::zero_based, Table::input_registers, 65535},
      {"1", Numbering::one_based, Table::holding_registers, 0},
      {"49", Numbering::one_based, Table::holding_registers, 48},
      {"0x31", Numbering::one_based, Table::holding_registers, 48},
      {"65536", Numbering::one_based, Table::coils, 65535},
      {"40001", Numbering::reference, Table::holding_registers, 0},
      {"40049", Numbering::reference, Table::holding_registers, 48},
      {"400049", Numbering::reference, Table::holding_registers, 48},
      {"49999", Numbering::reference, Table::holding_registers, 9998},
      {"465536", Numbering::reference, Table::holding_registers, 65535},
      {"30010", Numbering::reference, Table::input_registers, 9},
      {"310000", Numbering::reference, Table::input_registers, 9999},
      {"10197", Numbering::reference, Table::discrete_inputs, 196},
      {"00173", Numbering::reference, Table::coils, 172},
      {"000173", Numbering::reference, Table::coils, 172},
  };
  for (const auto& row : rows) {
    CAPTURE(row.text);
    const auto parsed = parse_address(row.text, row.numbering, row.table);
    REQUIRE(parsed.has_value());
    CHECK(*parsed == row.address);
  }
}

TEST_CASE("an address that is none is refused, with the range that was expected") {
  const struct {
    const char* text;
    Numbering numbering;
    Table table;
    const char* expected;
  } rows[] = {
      {"65536", Numbering::zero_based, Table::holding_registers, "from 0 to 65535"},
      {"-1", Numbering::zero_based, Table::holding_registers, "from 0 to 65535"},
      {"", Numbering::zero_based, Table::holding_registers, "from 0 to 65535"},
      {"0x", Numbering::zero_based, Table::holding_registers, "from 0 to 65535"},
      {"0x10G", Numbering::zero_based, Table::holding_registers, "from 0 to 65535"},
      {"4 8", Numbering::zero_based, Table::holding_registers, "from 0 to 65535"},
      {"99999999999999999999", Numbering::zero_based, Table::holding_registers, "from 0 to 65535"},
      {"0", Numbering::one_based, Table::holding_registers, "from 1 to 65536"},
      {"65537", Numbering::one_based, Table::holding_registers, "from 1 to 65536"},
      {"49", Numbering::reference, Table::holding_registers, "40001 to 49999 or 400001 to 465536"},
      {"40000", Numbering::reference, Table::holding_registers, "40001 to 49999"},
      {"465537", Numbering::reference, Table::holding_registers, "400001 to 465536"},
      {"4000049", Numbering::reference, Table::holding_registers, "40001 to 49999"},
      {"40x49", Numbering::reference, Table::holding_registers, "40001 to 49999"},
      {"30049", Numbering::reference, Table::holding_registers, "a holding register, 40001"},
      {"40049", Numbering::reference, Table::input_registers, "an input register, 30001"},
      {"40049", Numbering::reference, Table::coils, "a coil, 00001 to 09999 or 000001 to 065536"},
      {"00001", Numbering::reference, Table::discrete_inputs, "a discrete input, 10001"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.text);
    const auto parsed = parse_address(row.text, row.numbering, row.table);
    REQUIRE_FALSE(parsed.has_value());
    CAPTURE(parsed.error());
    CHECK(parsed.error().find(row.expected) != std::string::npos);
    CHECK(parsed.error().find("'" + std::string(row.text) + "'") != std::string::npos);
  }
}

TEST_CASE("a listing shows both ways of writing an address, and both read back") {
  CHECK(both_ways(0x0030, Table::holding_registers) == "0x0030 (40049)");
  CHECK(both_ways(172, Table::coils) == "0x00AC (00173)");
  CHECK(both_ways(9998, Table::holding_registers) == "0x270E (49999)");
  CHECK(both_ways(9999, Table::holding_registers) == "0x270F (410000)");
  CHECK(both_ways(65535, Table::input_registers) == "0xFFFF (365536)");
  for (const auto table :
       {Table::coils, Table::discrete_inputs, Table::input_registers, Table::holding_registers}) {
    int wrong = 0;
    for (unsigned address = 0; address <= 0xFFFF; ++address) {
      const auto number = reference_number(static_cast<std::uint16_t>(address), table);
      const auto back = parse_address(number, Numbering::reference, table);
      if (!back || *back != address) ++wrong;
    }
    CHECK(wrong == 0);
  }
}

}  // namespace
}  // namespace emberline::registers
