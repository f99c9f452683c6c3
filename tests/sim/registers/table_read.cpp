#include <limits>

#include <doctest/doctest.h>

#include "tests/sim/registers/points.hpp"

namespace emberline::registers {
namespace {

using test::make;
using test::Points;
using test::read_holding;
using test::read_input;
using test::row_at;
using test::text_of;
using test::writable;

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

TableParts parts_of(std::vector<Row> rows, Gaps gaps = Gaps::exception) {
  TableParts parts;
  parts.gaps = gaps;
  parts.rows = std::move(rows);
  return parts;
}

Row bit_at(std::uint16_t address, int position, Point point, std::optional<int> flag = std::nullopt) {
  Row row = row_at(address, point, Type::bit);
  row.bit_position = position;
  row.flag = flag;
  return row;
}

Row in_table(Row row, modbus::Table table) {
  row.table = table;
  return row;
}

TEST_CASE("a point is read where the table puts it, in its scale") {
  const auto table = make({row_at(0x30, Point::setpoint, Type::u16, 0.001),
                           row_at(0x31, Point::load_current_l1, Type::u16, 0.1),
                           row_at(0x32, Point::element_temperature, Type::s16, 1.0)});
  Points points;
  points[Point::setpoint] = 0.5;
  points[Point::load_current_l1] = 34.56;
  points[Point::element_temperature] = -12;
  CHECK(read_holding(table, 0x30, 3, points) == "01F4 015A FFF4");
  CHECK(read_holding(table, 0x31, 1, points) == "015A");
}

TEST_CASE("an unmapped address is exception 02, in a partly mapped block as the gaps say") {
  const std::vector<Row> rows = {row_at(10, Point::setpoint, Type::u16, 0.001),
                                 row_at(12, Point::output, Type::u16, 0.001)};
  const auto strict = make(parts_of(rows));
  const auto lenient = make(parts_of(rows, Gaps::zero));
  CHECK(strict->gaps() == Gaps::exception);
  CHECK(lenient->gaps() == Gaps::zero);
  Points points;
  points[Point::setpoint] = 1;
  points[Point::output] = 0.5;
  const struct {
    std::uint16_t first;
    std::uint16_t count;
    const char* strictly;
    const char* leniently;
  } reads[] = {
      {10, 1, "03E8", "03E8"},
      {10, 2, "exception 02", "03E8 0000"},
      {10, 3, "exception 02", "03E8 0000 01F4"},
      {9, 2, "exception 02", "0000 03E8"},
      {12, 2, "exception 02", "01F4 0000"},
      {8, 6, "exception 02", "0000 0000 03E8 0000 01F4 0000"},
      {11, 1, "exception 02", "exception 02"},  // wholly unmapped
      {0, 10, "exception 02", "exception 02"},
      {13, 100, "exception 02", "exception 02"},
      {65535, 1, "exception 02", "exception 02"},
  };
  for (const auto& read : reads) {
    CAPTURE(read.first);
    CAPTURE(read.count);
    CHECK(read_holding(strict, read.first, read.count, points) == read.strictly);
    CHECK(read_holding(lenient, read.first, read.count, points) == read.leniently);
  }
}

TEST_CASE("an empty table has nothing to read") {
  const auto table = make(std::vector<Row>{});
  const Points points;
  CHECK(read_holding(table, 0, 1, points) == "exception 02");
  CHECK(text_of(table->read_bits(modbus::Table::coils, {0, 1}, points)) == "exception 02");
  CHECK(table->find(Point::setpoint) == nullptr);
}

TEST_CASE("holding registers are not input registers unless the table says so") {
  auto parts = parts_of({row_at(5, Point::output, Type::u16, 0.001)});
  Points points;
  points[Point::output] = 1;
  CHECK(read_input(make(parts), 5, 1, points) == "exception 02");
  parts.input_same_as_holding = true;
  const auto table = make(parts);
  CHECK(read_input(table, 5, 1, points) == "03E8");
  CHECK(read_holding(table, 5, 1, points) == "03E8");
}

TEST_CASE("input same as holding: mirrored rows are listed, read only, and without write-only ones") {
  Row secret = row_at(3, Point::heartbeat, Type::u16);
  secret.access = Access::write_only;
  auto parts = parts_of({writable(row_at(7, Point::setpoint, Type::f32, 0.01)), secret,
                         in_table(bit_at(0, 0, Point::reset), modbus::Table::coils)});
  parts.input_same_as_holding = true;
  const auto table = make(parts);
  REQUIRE(table->rows().size() == 4);
  CHECK(table->rows()[0].table == modbus::Table::coils);
  CHECK(table->rows()[1].table == modbus::Table::input_registers);
  CHECK(table->rows()[1].point == Point::setpoint);
  CHECK(table->rows()[1].access == Access::read_only);
  CHECK(table->rows()[2].address == 3);
  CHECK(table->rows()[3].access == Access::read_write);
  CHECK(table->find(Point::setpoint)->table == modbus::Table::holding_registers);
}

TEST_CASE("half of a 32-bit value can be read, unless that is refused") {
  // 123456 is 47F12000h as IEEE 754 binary32.
  Points points;
  points[Point::load_power] = 123456;
  for (const bool refused : {false, true}) {
    CAPTURE(refused);
    Row row = row_at(20, Point::load_power, Type::f32);
    row.split_refused = refused;
    const auto table = make({row, row_at(22, Point::state, Type::u16)});
    CHECK(read_holding(table, 20, 2, points) == "47F1 2000");
    CHECK(read_holding(table, 20, 3, points) == "47F1 2000 0000");
    CHECK(read_holding(table, 20, 1, points) == (refused ? "exception 02" : "47F1"));
    CHECK(read_holding(table, 21, 1, points) == (refused ? "exception 02" : "2000"));
    CHECK(read_holding(table, 21, 2, points) == (refused ? "exception 02" : "2000 0000"));
  }
}

TEST_CASE("both halves of a 32-bit value come from one reading") {
  const auto table = make({row_at(0, Point::energy, Type::u32, 3600), row_at(2, Point::run_time, Type::u32)});
  const Points points;
  (void)read_holding(table, 0, 4, points);
  CHECK(points.reads == 2);
}

TEST_CASE("a 32-bit value stands in the order its row gives") {
  Points points;
  points[Point::load_power] = 123456;  // 47F12000h, IEEE 754
  Row row = row_at(65534, Point::load_power, Type::f32);
  row.layout.word_order = WordOrder::low_first;
  CHECK(read_holding(make({row}), 65534, 2, points) == "2000 47F1");
  row.layout.byte_order = ByteOrder::low_first;
  CHECK(read_holding(make({row}), 65534, 2, points) == "0020 F147");
}

TEST_CASE("bits of several points share a register, the others read 0") {
  const auto table = make({bit_at(4, 0, Point::warnings, static_cast<int>(Warning::comms_loss)),
                           bit_at(4, 15, Point::warnings, static_cast<int>(Warning::load_open)),
                           bit_at(4, 3, Point::trips), bit_at(4, 8, Point::output)});
  Points points;
  CHECK(read_holding(table, 4, 1, points) == "0000");
  points[Point::warnings] = bit(Warning::comms_loss);
  CHECK(read_holding(table, 4, 1, points) == "0001");
  points[Point::warnings] = bit(Warning::load_open) | bit(Warning::supply_low);
  CHECK(read_holding(table, 4, 1, points) == "8000");
  points[Point::trips] = bit(Trip::fuse_open);  // without a flag the bit is "any"
  points[Point::output] = 0.01;
  CHECK(read_holding(table, 4, 1, points) == "8108");
  CHECK(table->rows().size() == 4);
  CHECK(table->rows()[1].bit_position == 3);
}

TEST_CASE("bytes of a register of bits are swapped like any other's") {
  Row row = bit_at(4, 2, Point::trips);
  row.layout.byte_order = ByteOrder::low_first;
  Points points;
  points[Point::trips] = 1;
  CHECK(read_holding(make({row}), 4, 1, points) == "0400");
}

TEST_CASE("coils and discrete inputs carry bits, with the same rule for gaps") {
  const std::vector<Row> rows = {
      in_table(bit_at(0, 0, Point::reset), modbus::Table::coils),
      in_table(bit_at(1, 0, Point::setpoint_source), modbus::Table::coils),
      in_table(bit_at(8, 0, Point::warnings, 0), modbus::Table::discrete_inputs),
      in_table(bit_at(10, 0, Point::trips), modbus::Table::discrete_inputs),
  };
  Points points;
  points[Point::setpoint_source] = 1;
  points[Point::trips] = 4;
  const auto strict = make(parts_of(rows));
  CHECK(text_of(strict->read_bits(modbus::Table::coils, {0, 2}, points)) == "01");
  CHECK(text_of(strict->read_bits(modbus::Table::coils, {0, 3}, points)) == "exception 02");
  CHECK(text_of(strict->read_bits(modbus::Table::discrete_inputs, {10, 1}, points)) == "1");
  CHECK(text_of(strict->read_bits(modbus::Table::discrete_inputs, {0, 1}, points)) == "exception 02");
  const auto lenient = make(parts_of(rows, Gaps::zero));
  CHECK(text_of(lenient->read_bits(modbus::Table::discrete_inputs, {8, 4}, points)) == "0010");
  CHECK(text_of(lenient->read_bits(modbus::Table::discrete_inputs, {0, 8}, points)) == "exception 02");
}

TEST_CASE("a write-only register reads like an unmapped one") {
  Row row = row_at(1, Point::heartbeat, Type::u16);
  row.access = Access::write_only;
  Row wide = row_at(2, Point::comms_timeout, Type::f32);
  wide.access = Access::write_only;
  const std::vector<Row> rows = {row_at(0, Point::state, Type::u16), row, wide};
  Points points;
  points[Point::state] = 3;
  points[Point::heartbeat] = 77;
  points[Point::comms_timeout] = 5;
  const auto strict = make(parts_of(rows));
  CHECK(read_holding(strict, 0, 2, points) == "exception 02");
  CHECK(read_holding(strict, 1, 3, points) == "exception 02");
  const auto lenient = make(parts_of(rows, Gaps::zero));
  CHECK(read_holding(lenient, 0, 4, points) == "0003 0000 0000 0000");
  CHECK(read_holding(lenient, 1, 1, points) == "exception 02");
}

TEST_CASE("a value that does not fit is told to the unit each time, and stands at the end of its type") {
  const auto table =
      make({row_at(0, Point::load_power, Type::u16, 0.1), row_at(1, Point::element_temperature, Type::s16),
            row_at(2, Point::load_resistance, Type::f32)});
  Points points;
  points[Point::load_power] = 24000;
  points[Point::element_temperature] = kNan;
  points[Point::load_resistance] = kNan;
  CHECK(read_holding(table, 0, 4, points) == "FFFF 7FFF 7FC0 0000");
  CHECK(points.saturations == std::vector<std::string>{"load_power 24000", "element_temperature nan"});
  (void)read_holding(table, 0, 1, points);
  CHECK(points.saturations.size() == 3);
}

TEST_CASE("state numbers and flags stand where the table renumbers them") {
  Row state = row_at(0, Point::state, Type::u16);
  state.values = {{static_cast<int>(State::running), 10}, {static_cast<int>(State::tripped), 3}};
  Row warnings = row_at(1, Point::warnings, Type::u16);
  warnings.flags = {{static_cast<int>(Warning::comms_loss), 15}, {static_cast<int>(Warning::load_open), 0}};
  const auto table = make({state, warnings, row_at(2, Point::warnings, Type::u16)});
  Points points;
  points[Point::state] = static_cast<double>(State::running);
  points[Point::warnings] = bit(Warning::comms_loss) | bit(Warning::supply_low);
  CHECK(read_holding(table, 0, 3, points) == "000A 8000 0005");
  points[Point::state] = static_cast<double>(State::tripped);
  points[Point::warnings] = bit(Warning::load_open);
  CHECK(read_holding(table, 0, 3, points) == "0003 0001 0100");
  points[Point::state] = static_cast<double>(State::inhibited);
  CHECK(read_holding(table, 0, 1, points) == "0006");
}

TEST_CASE("of several rows of a point the first of the file is used, holding registers first") {
  const auto table = make(
      {in_table(row_at(1, Point::setpoint, Type::u16, 0.01), modbus::Table::input_registers),
       row_at(9, Point::setpoint, Type::u16, 0.01), writable(row_at(5, Point::setpoint, Type::u16, 0.001)),
       row_at(3, Point::setpoint, Type::u16, 0.0001),
       in_table(row_at(0, Point::output, Type::u16), modbus::Table::input_registers)});
  CHECK(table->find(Point::setpoint)->address == 9);
  CHECK(table->find(Point::setpoint, true)->address == 5);
  CHECK(table->find(Point::output)->table == modbus::Table::input_registers);
  CHECK(table->find(Point::output, true)->address == 0);  // none can be written: the row there is
  CHECK(table->find(Point::trips) == nullptr);
}

TEST_CASE("a point is kept if any of its rows says so") {
  Row kept = writable(row_at(1, Point::setpoint, Type::u16, 0.01));
  kept.kept = true;
  const auto table =
      make({row_at(0, Point::setpoint, Type::u16, 0.01), kept, row_at(2, Point::comms_timeout, Type::u16)});
  CHECK(table->keeps(Point::setpoint));
  CHECK_FALSE(table->keeps(Point::comms_timeout));
  CHECK_FALSE(table->keeps(Point::heartbeat));
}

TEST_CASE("a table keeps its title") {
  auto parts = parts_of({});
  parts.title = "Short blocks";
  CHECK(make(parts)->title() == "Short blocks");
}

}  // namespace

TEST_CASE("a value that has moved is read as it was before, or one that does not fit is told of only once") {
  auto broken = row_at(2, Point::load_current_l1, Type::s16, 0.1);
  broken.layout.broken = -32768.0;
  const auto table = make(
      {row_at(0, Point::load_power, Type::u16, 10.0), row_at(1, Point::output, Type::s16, 0.001), broken});
  Points points;
  registers::LastWords last;
  const auto read = [&] {
    return text_of(table->read_registers(modbus::Table::holding_registers, {0, 3}, points, last));
  };
  points[Point::load_power] = 12340.0;
  points[Point::output] = -0.5;
  CHECK(read() == "04D2 FE0C 0000");
  CHECK(read() == "04D2 FE0C 0000");
  points[Point::load_power] = 12350.0;
  CHECK(read() == "04D3 FE0C 0000");
  points[Point::load_current_l1] = std::numeric_limits<double>::quiet_NaN();
  CHECK(read() == "04D3 FE0C 8000");
  points[Point::load_current_l1] = -0.0;
  CHECK(read() == "04D3 FE0C 0000");
  CHECK(points.saturations.empty());
  points[Point::load_power] = 1e6;
  CHECK(read() == "FFFF FE0C 0000");
  CHECK(read() == "FFFF FE0C 0000");
  CHECK(points.saturations.size() == 2);
}

TEST_CASE("one unit reads what another of the same table carried last") {
  const auto table =
      make({row_at(0, Point::load_power, Type::u16, 10.0), row_at(1, Point::output, Type::u16, 0.001)});
  Points one, other;
  registers::LastWords of_one, of_other;
  one[Point::load_power] = 100.0;
  other[Point::load_power] = 200.0;
  for (int again = 0; again < 2; ++again) {
    CHECK(text_of(table->read_registers(modbus::Table::holding_registers, {0, 2}, one, of_one)) ==
          "000A 0000");
    CHECK(text_of(table->read_registers(modbus::Table::holding_registers, {0, 2}, other, of_other)) ==
          "0014 0000");
  }
}

}  // namespace emberline::registers
