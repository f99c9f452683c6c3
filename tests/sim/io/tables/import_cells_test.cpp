#include "sim/io/tables/import_cells.hpp"

#include <string>

#include <doctest/doctest.h>

#include "sim/io/tables/import_words.hpp"

using namespace emberline;

// Common practice, no source, unless a row names one.

TEST_CASE("units are known in the ways they are written, with their prefix as a factor") {
  struct Row {
    const char* text;
    Dimension dimension;
    double factor;
  };
  const Row rows[] = {
      {"V", Dimension::voltage, 1},
      {"Vrms", Dimension::voltage, 1},
      {"V AC", Dimension::voltage, 1},
      {"kV", Dimension::voltage, 1e3},
      {"mA", Dimension::current, 1e-3},
      {"amps", Dimension::current, 1},
      {"[A]", Dimension::current, 1},
      {"0.1 A", Dimension::current, 0.1},
      {"A x 10", Dimension::current, 10},
      {"A/10", Dimension::current, 0.1},
      {"kW", Dimension::power, 1e3},
      {"MW", Dimension::power, 1e6},
      {"mW", Dimension::power, 1e-3},
      {"kVA", Dimension::apparent_power, 1e3},
      {"%", Dimension::ratio, 0.01},
      {"percent", Dimension::ratio, 0.01},
      {"degC", Dimension::temperature, 1},
      {"\xC2\xB0"
       "C",
       Dimension::temperature, 1},
      {"deg C", Dimension::temperature, 1},
      {"\xC2\xB0", Dimension::angle, 1},
      {"Hz", Dimension::frequency, 1},
      {"\xCE\xA9", Dimension::resistance, 1},
      {"m\xCE\xA9", Dimension::resistance, 1e-3},
      {"ms", Dimension::time, 1e-3},
      {"min", Dimension::time, 60},
      {"hours", Dimension::time, 3600},
      {"kWh", Dimension::energy, 3.6e6},
      {"MWh", Dimension::energy, 3.6e9},
      {"1/10 V", Dimension::voltage, 0.1},
      {"10 ms", Dimension::time, 0.01},
  };
  for (const auto& row : rows) {
    CAPTURE(std::string(row.text));
    const auto unit = io::unit_cell(row.text);
    REQUIRE(unit.has_value());
    REQUIRE(unit->has_value());
    CHECK((*unit)->dimension == row.dimension);
    CHECK((*unit)->factor == doctest::Approx(row.factor).epsilon(1e-12));
  }
  for (const auto* none : {"", "-", "1", "n/a"}) {
    const auto unit = io::unit_cell(none);
    CHECK(unit.has_value());
    CHECK_FALSE(unit->has_value());
  }
  CHECK(io::unit_cell("rpm").error() == "unknown unit 'rpm'");
  CHECK(io::unit_cell("\xC2\xB0"
                      "F")
            .error()
            .find("another zero") != std::string::npos);
}

TEST_CASE("a scale is a factor, a divisor or decimals as it is written or the mapping says") {
  struct Row {
    const char* text;
    io::ScaleHabit habit;
    double number;
  };
  using enum io::ScaleHabit;
  const Row rows[] = {
      {"0.1", factor, 0.1},    {"0,1", factor, 0.1},   {"1/10", factor, 0.1},    {"x10", factor, 10},
      {"*0.01", factor, 0.01}, {"/10", factor, 0.1},   {"1e-3", factor, 1e-3},   {"10^-2", factor, 0.01},
      {"10", divisor, 0.1},    {"1/10", divisor, 0.1}, {"x 1/10", divisor, 0.1}, {"1/10", decimals, 0.1},
      {"/10", divisor, 0.1},   {"100", divisor, 0.01}, {"2", decimals, 0.01},    {"0", decimals, 1},
      {"", factor, 1},         {"", divisor, 1},       {"10:1", factor, 10},     {"0.1 A", factor, 0.1}};
  for (const auto& row : rows) {
    CAPTURE(std::string(row.text));
    const auto scale = io::scale_cell(row.text, row.habit);
    REQUIRE(scale.has_value());
    CHECK(scale->number == row.number);  // exactly: it is what a file would say
  }
  CHECK(io::scale_cell("0.1 A", factor)->unit->dimension == Dimension::current);
  CHECK(io::scale_cell("A", factor)->unit->dimension == Dimension::current);
  for (const auto* bad : {"0", "-1", "much"}) CHECK_FALSE(io::scale_cell(bad, factor).has_value());
  CHECK_FALSE(io::scale_cell("1.5", decimals).has_value());
}

TEST_CASE("addresses are read in each habit, and a bit or a last register behind one") {
  using enum io::AddressHabit;
  struct Row {
    const char* text;
    io::AddressHabit habit;
    const char* address;
    int registers;
    int bit;
  };
  constexpr int kNone = -1;
  const Row rows[] = {{"48", as_written, "48", kNone, kNone},
                      {"0x0030", as_written, "0x0030", kNone, kNone},
                      {"30h", as_written, "0x30", kNone, kNone},
                      {"16#30", as_written, "0x30", kNone, kNone},
                      {"30", hexadecimal, "0x30", kNone, kNone},
                      {"00A0", hexadecimal, "0x00a0", kNone, kNone},
                      {"0048", decimal, "0048", kNone, kNone},
                      {"40003.5", as_written, "40003", kNone, 5},
                      {"0x10.15", as_written, "0x10", kNone, 15},
                      {"40001-40002", as_written, "40001", 2, kNone},
                      {"40001 \xE2\x80\x93 40004", as_written, "40001", 4, kNone},
                      {"4x0001", as_written, "40001", kNone, kNone}};
  for (const auto& row : rows) {
    CAPTURE(std::string(row.text));
    const auto cell = io::address_cell(row.text, row.habit, true);
    REQUIRE(cell.has_value());
    CHECK(cell->text == row.address);
    CHECK(cell->registers.value_or(kNone) == row.registers);
    CHECK(cell->bit.value_or(kNone) == row.bit);
  }
  for (const auto* bad : {"abc", "A0", "40003.16", "40003.x", "9-3", "-1"}) {
    CAPTURE(std::string(bad));
    CHECK_FALSE(io::address_cell(bad, as_written, true).has_value());
  }
  CHECK_FALSE(io::address_cell("0x30", decimal, true).has_value());
  CHECK_FALSE(io::address_cell("40003.5", as_written, false).has_value());
}

TEST_CASE("ranges are read whatever stands between their ends") {
  for (const auto* text : {"0..100", "0 - 100", "0 to 100 %", "[0, 100]",
                           "0\xE2\x80\xA6"
                           "100",
                           "0 \xE2\x80\x93 100", "(0;100)"}) {
    CAPTURE(std::string(text));
    const auto range = io::range_cell(text);
    if (std::string(text) == "[0, 100]") {
      CHECK_FALSE(range.has_value());  // a comma could be a decimal one
      continue;
    }
    REQUIRE(range.has_value());
    CHECK(range->lowest == 0.0);
    CHECK(range->highest == 100.0);
  }
  CHECK(io::range_cell("-40..150")->lowest == -40.0);
  CHECK(io::range_cell("-40--10")->highest == -10.0);
  CHECK(io::range_cell("0..3600 s")->unit->dimension == Dimension::time);
  for (const auto* bad : {"", "100", "100..0", "a..b", "..5"}) CHECK_FALSE(io::range_cell(bad).has_value());
}

TEST_CASE("bits and masks are read as numbers, as words, and as what they are next to") {
  CHECK(io::bit_cell("5") == 0x0020);
  CHECK(io::bit_cell("bit 5") == 0x0020);
  CHECK(io::bit_cell("b15") == 0x8000);
  CHECK(io::bit_cell("4-7") == 0x00F0);
  CHECK(io::bit_cell("7..4") == 0x00F0);
  CHECK(io::bit_cell("0-15") == 0xFFFF);
  CHECK_FALSE(io::bit_cell("16").has_value());
  CHECK(io::mask_cell("0x0004") == 0x0004);
  CHECK(io::mask_cell("16") == 0x0010);
  CHECK(io::mask_cell("0b1000") == 0x0008);
  CHECK(io::mask_cell("bit 3") == 0x0008);
  CHECK_FALSE(io::mask_cell("0").has_value());
  CHECK_FALSE(io::mask_cell("0x10000").has_value());
}

TEST_CASE("enumerations are read with the number first or last, however they are parted") {
  for (const auto* text : {"0=off;1=run", "0: off, 1: run", "0 - off\n1 - run", "off=0 run=1",
                           "off = 0, run = 1", "0 = off | 1 = run"}) {
    CAPTURE(std::string(text));
    std::vector<std::string> unread;
    const auto entries = io::labelled_cell(text, unread);
    REQUIRE(entries.size() == 2);
    CHECK(entries[0].number == 0);
    CHECK(entries[0].label == "off");
    CHECK(entries[1].number == 1);
    CHECK(entries[1].label == "run");
    CHECK(unread.empty());
  }
  std::vector<std::string> unread;
  const auto bits = io::labelled_cell("bit 0: low, 0x0008: high", unread);
  REQUIRE(bits.size() == 2);
  CHECK(bits[1].is_bit);
  CHECK(bits[1].number == 3);
  CHECK(io::labelled_cell("see manual", unread).empty());
  CHECK(unread == std::vector<std::string>{"'see manual' is no number up to 65535 with its meaning"});
}

TEST_CASE("types go by the words of IEC 61131-3:2013, table 10, and by usual ones") {
  using registers::Type;
  struct Row {
    const char* word;
    Type type;
  };
  const Row rows[] = {{"BOOL", Type::bit},     {"INT", Type::s16},
                      {"UINT", Type::u16},     {"WORD", Type::u16},
                      {"DINT", Type::s32},     {"UDINT", Type::u32},
                      {"DWORD", Type::u32},    {"REAL", Type::f32},
                      {"ULINT", Type::u64},    {"LWORD", Type::u64},
                      {"STRING", Type::text},  {"uint16", Type::u16},
                      {"Float 32", Type::f32}, {"16-bit unsigned", Type::u16},
                      {"bits", Type::bits}};
  for (const auto& row : rows) {
    CAPTURE(std::string(row.word));
    const auto type = io::type_word(row.word, {});
    REQUIRE(type.has_value());
    CHECK(type->type == row.type);
  }
  CHECK(io::type_word("STRING[16]", {})->text_registers == 8);
  CHECK(io::type_word("float (LSW first)", {})->word_order == registers::WordOrder::low_first);
  CHECK(io::type_word("LREAL", {}).error().find("none that a register table here can carry") !=
        std::string::npos);
  CHECK(io::type_word("blob", {}).error().find("unknown type 'blob'") == 0);
}

TEST_CASE("tables go by name, by reference digit, and by function code") {
  // Function codes: MODBUS Application Protocol V1.1b3, section 6.
  using modbus::Table;
  const auto table = [](const char* word) { return io::table_word(word, {}); };
  CHECK(table("Holding register")->table == Table::holding_registers);
  CHECK(table("4x")->table == Table::holding_registers);
  CHECK(table("3xxxx")->table == Table::input_registers);
  CHECK(table("04")->table == Table::input_registers);
  CHECK(table("0x04")->table == Table::input_registers);
  CHECK(table("02")->table == Table::discrete_inputs);
  CHECK(table("1, 5, 15")->table == Table::coils);
  CHECK(table("03, 06, 16")->access == registers::Access::read_write);
  CHECK(table("FC 3 / FC 16")->table == Table::holding_registers);
  CHECK_FALSE(table("3, 4").has_value());
  CHECK_FALSE(table("7").has_value());
  CHECK_FALSE(table("flash").has_value());
}
