#include "sim/io/tables/table_formats.hpp"

#include <algorithm>
#include <cmath>
#include <memory>
#include <string>

#include <doctest/doctest.h>

#include "sim/io/tables/table_blocks.hpp"
#include "sim/io/tables/table_notes.hpp"
#include "sim/io/tables/table_st_names.hpp"
#include "tests/sim/io/tables/every_type.hpp"

// What the formats say of shipped tables, registers_outputs.py reads with the tools of others.

using namespace emberline;

namespace {

bool holds(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

registers::Row row_of(registers::Point point, double scale, registers::Type type = registers::Type::u16) {
  registers::Row row;
  row.point = point;
  row.layout.type = type;
  row.layout.scale = scale;
  return row;
}

std::shared_ptr<const registers::RegisterTable> made(registers::TableParts parts) {
  auto table = registers::make_register_table(std::move(parts));
  REQUIRE(table.has_value());
  return std::move(table).value();
}

}  // namespace

TEST_CASE("a scale is written as another number than the table has") {
  for (const char* const text : {"0.1 %", "0.01 %", "0.001 %", "1 %", "0.3 %", "0.7 %", "12.345 %", "0.1 kWh",
                                 "0.01 kWh", "0.001 kWh", "0.3 kWh", "1e-05 %", "33.3 %"}) {
    CAPTURE(text);
    const auto dimension =
        std::string(text).find('%') == std::string::npos ? Dimension::energy : Dimension::ratio;
    const double scale = *parse_quantity(text, dimension);
    const auto unit = std::string(natural_unit(dimension));
    CHECK(io::in_natural_unit(scale, dimension) + " " + unit == text);
  }
  // What no short number gives has to read back all the same.
  for (int i = 1; i < 2000; ++i) {
    const double scale = i / 7000.0;
    const auto text = io::in_natural_unit(scale * 0.01, Dimension::ratio);
    CAPTURE(text);
    const double read = *parse_quantity(text + " %", Dimension::ratio);
    CHECK(std::abs(read - scale * 0.01) <= 1e-15 * scale);
  }
}

TEST_CASE("the scale of a float is told as if it counted, or what one count is has no number") {
  using registers::Point;
  using registers::Type;
  CHECK(io::scale_words(row_of(Point::element_temperature, 1.0)) == "1 degC");
  CHECK(io::scale_words(row_of(Point::load_power, 10.0)) == "10 W");
  CHECK(io::scale_words(row_of(Point::heartbeat, 1.0)).empty());
  CHECK(io::scale_words(row_of(Point::heartbeat, 0.5)) == "0.5");
  CHECK(io::scale_words(row_of(Point::element_temperature, 1.0, Type::f32)) == "in degC");
  CHECK(io::scale_words(row_of(Point::setpoint, 0.01, Type::f32)) == "in %");
  CHECK(io::scale_words(row_of(Point::setpoint, 1.0, Type::f32)) == "1.0 = 100 %");
  CHECK(io::scale_words(row_of(Point::heartbeat, 1.0, Type::f32)).empty());
}

TEST_CASE("the notes speak of halves of four registers, or of one bit as of all of them") {
  using registers::Point;
  using registers::Type;
  auto row = row_of(Point::energy, 3.6e6, Type::u64);
  row.split_refused = true;
  CHECK(holds(io::notes_of(row), "only whole"));
  CHECK_FALSE(holds(io::notes_of(row), "halves"));
  row = row_of(Point::trips, 1.0, Type::bit);
  CHECK(io::meaning_of(row) == "on if any of the trips is there");
  row.flag = 3;
  CHECK(io::meaning_of(row) == std::string(io::flag_word(row)) + " of the trips");
  CHECK(io::heading_of(modbus::Table::holding_registers) ==
        "Holding registers (function codes 03, 06, 10, 16, 17, hexadecimal)");
}

TEST_CASE("names in Structured Text do not tell the mask of a word from that of a bit elsewhere") {
  const io::RegisterList list{"All", "emberline", {{test::every_type(), {}}}};
  const auto st = io::registers_st(list);
  CHECK(holds(st, "  EVERY_TYPE_ALL_COMMS_LOSS_IN_WARNINGS : WORD := 16#"));
  CHECK(holds(st, "  EVERY_TYPE_ALL_RESET_BIT_AT_001A : WORD := 16#0001;"));
  CHECK(holds(st, "_BIT_AT_010C : WORD := 16#0002;"));
  CHECK_FALSE(holds(st, "_WARNINGS_COMMS_LOSS : "));
  CHECK(holds(st, "    FIXED_AT_30274 : UDINT;"));
  CHECK_FALSE(holds(st, " FIXED : "));
}

TEST_CASE("what Structured Text needs to know of its use stands nowhere in it") {
  registers::TableParts parts;
  parts.title = "Twice";
  parts.input_same_as_holding = true;
  parts.rows.push_back(row_of(registers::Point::energy, 3.6e6, registers::Type::u32));
  const auto st = io::registers_st({"Twice", "emberline", {{made(parts), {}}}});
  CHECK(holds(st, "   TWICE_TAKE_HOLDING serves function code 4 as well"));
  CHECK(holds(st, "taken := TWICE_TAKE_HOLDING(first := first, count := count, words := words, points"));
  CHECK(holds(st, "words : ARRAY [0..124] OF WORD;  points : TWICE_POINTS;  taken : UINT;"));
  for (const char* const told : {"EMB_... stands in every file", "`value <> value`", "LREAL, LWORD and ULINT",
                                 "(NaN) becomes the lowest", "held within the row's own range", "mask write"})
    CHECK_MESSAGE(holds(st, told), told);
  CHECK_FALSE(
      holds(io::registers_st({"All", "emberline", {{test::every_type(), {}}}}), "serves function code 4"));
}

TEST_CASE("lines of Structured Text are longer than tools show, or break inside of a word") {
  CHECK(io::st_narrow("a b\n") == "a b\n");
  const std::string word(50, 'x');
  CHECK(io::st_narrow("  " + word + " " + word + " " + word + "\n") ==
        "  " + word + " " + word + "\n      " + word + "\n");
  const std::string endless(200, 'y');
  CHECK(io::st_narrow("  " + endless + " z\n") == "  " + endless + "\n      z\n");
  auto parts = test::every_type_parts();
  parts.title =
      "Every 'type' *) | \"and\" (* a title that goes on for so long that no page has room for it: ";
  for (int i = 0; i < 20; ++i) parts.title += "more and more, ";
  const auto st = io::registers_st({parts.title, "emberline", {{made(parts), {}}}});
  std::size_t longest = 0;
  for (std::size_t at = 0; at < st.size();) {
    const auto end = st.find('\n', at);
    longest = std::max(longest, end - at);
    at = end + 1;
  }
  CHECK(longest <= 120);
}

TEST_CASE("a CSV field with a comma, a quote or a line end is taken for several") {
  auto parts = test::every_type_parts();
  auto& text = *std::find_if(parts.rows.begin(), parts.rows.end(),
                             [](const registers::Row& row) { return !row.fixed_text.empty(); });
  text.fixed_text = "a,\"b";
  const auto csv = io::registers_csv(*made(parts));
  CHECK(holds(csv, ",\"a,\"\"b\",stated by the table\r\n"));
  CHECK(holds(csv, ",\"a change from 0 to 1 resets latches, where allowed\"\r\n"));
  CHECK(std::count(csv.begin(), csv.end(), '\n') == static_cast<long>(parts.rows.size()) + 1);
}

TEST_CASE("text of users is taken for marks of Markdown or HTML") {
  const io::RegisterList list{"<b>&\"|*", "emberline", {{test::every_type(), {{"a|<i>", 7, {"field"}, 0}}}}};
  const auto markdown = io::registers_markdown(list);
  CHECK(holds(markdown, "# Registers: \\<b\\>\\&\"\\|\\*\n"));
  CHECK(holds(markdown, "| a\\|\\<i\\> (id 7) | holding |"));
  const auto html = io::registers_html(list);
  CHECK(holds(html, "<h1>&lt;b&gt;&amp;&quot;|*</h1>"));
  CHECK_FALSE(holds(html, "<i>"));
}

TEST_CASE("a block read is longer than the unit takes, or input registers that are holding are read twice") {
  registers::TableParts parts;
  parts.title = "Twice";
  parts.input_same_as_holding = true;
  for (int i = 0; i < 9; ++i) {
    auto row = row_of(registers::Point::energy, 3.6e6, registers::Type::u32);
    row.address = static_cast<std::uint16_t>(100 + 2 * i);
    parts.rows.push_back(row);
  }
  const auto table = made(parts);
  CHECK(io::input_is_holding(*table));
  const auto whole = io::block_reads(*table, 0);
  REQUIRE(whole.size() == 1);
  CHECK(whole[0].range.first == 100);
  CHECK(whole[0].range.count == 18);
  const auto cut = io::block_reads(*table, 5);  // two values of two registers, never two and a half
  REQUIRE(cut.size() == 5);
  CHECK(cut[0].range.count == 4);
  CHECK(cut[4].range.first == 116);
  CHECK_FALSE(io::input_is_holding(*test::every_type()));
}

TEST_CASE("an identifier of Structured Text is a keyword, ends in an underscore or differs in case alone") {
  io::StNames names;
  CHECK(names.take("soak-heater") == "SOAK_HEATER");
  CHECK(names.take("Soak_Heater") == "SOAK_HEATER_2");
  CHECK(names.take("SOAK HEATER", "at 40001") == "SOAK_HEATER_AT_40001");
  CHECK(names.take("step") == "STEP_VALUE");
  CHECK(names.take("Limit") == "LIMIT_VALUE");
  CHECK(names.take("__a__b__") == "A_B");
  CHECK(names.take("3 phases") == "N3_PHASES");
  CHECK(names.take("\xC3\xA4\xC3\xB6") == "NAMELESS");
  CHECK(names.take("") == "NAMELESS_2");
  CHECK(io::st_short_identifier("Metering and supervision", 16) == "METERING_AND");
  CHECK(io::st_short_identifier("Electroencephalography", 16) == "ELECTROENCEPHALO");
}

TEST_CASE("a comment of Structured Text ends too soon, or a number is none of the language") {
  CHECK(io::st_comment("a *) b (* c /* d */ e\nf*") == "a * ) b ( * c / * d * / e f* ");
  CHECK(io::st_comment("(**)") == "( ** )");
  CHECK(io::st_lreal(0.1) == "LREAL#0.1");
  CHECK(io::st_lreal(-50.0) == "LREAL#-50.0");
  CHECK(io::st_lreal(1e9) == "LREAL#1.0E9");
  CHECK(io::st_lreal(2.5e-10) == "LREAL#2.5E-10");
  CHECK(io::st_lreal(-0.0) == "LREAL#0.0");
  CHECK(io::st_hex(48, 4) == "16#0030");
}

TEST_CASE("a table of thousands of rows loses some of them on the way out") {
  registers::TableParts parts;
  parts.title = "Large";
  constexpr int kRows = 5000;
  for (int i = 0; i < kRows; ++i) {
    auto row = row_of(registers::Point::load_power, 10.0);
    row.address = static_cast<std::uint16_t>(3 * i);
    parts.rows.push_back(row);
  }
  const io::RegisterList list{"Large", "emberline", {{made(parts), {}}}};
  const auto count = [](const std::string& text, const std::string& part) {
    int found = 0;
    for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + part.size())) ++found;
    return found;
  };
  CHECK(count(io::registers_csv(*list.tables[0].table), "\r\ninput,") == 0);
  CHECK(count(io::registers_csv(*list.tables[0].table), "holding,0x") == kRows);
  CHECK(count(io::registers_json(list), "\"name\": \"load_power\"") == kRows);
  CHECK(count(io::registers_text(list), " load_power ") == kRows);
  CHECK(count(io::registers_markdown(list), "| `load_power` |") == kRows);
  CHECK(count(io::registers_html(list), "load_<wbr>power") == kRows);
  CHECK(count(io::registers_st(list), "_ADDRESS : UINT") == kRows);
}
