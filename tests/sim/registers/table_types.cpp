// Rows of several registers, of text, fixed and masked ones, as a master meets them.
#include <doctest/doctest.h>

#include "sim/base/random.hpp"
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
using Log = std::vector<std::string>;
using List = std::vector<std::uint16_t>;

std::string write(const test::Table& table, std::uint16_t first, const List& words, Points& points) {
  return text_of(table->write_registers(first, words, points));
}

Row text_at(std::uint16_t address, int size, std::optional<TextPoint> text, std::string fixed = {}) {
  Row row = row_at(address, Point::setpoint, Type::text);
  row.layout.text_registers = size;
  row.text = text;
  row.fixed_text = std::move(fixed);
  return row;
}
Row fixed_at(std::uint16_t address, Type type, double count) {
  Row row = row_at(address, Point::setpoint, type);
  row.fixed = count;
  return row;
}
Row bits_at(std::uint16_t address, std::uint16_t mask, Point point) {
  Row row = row_at(address, point, Type::bits);
  row.layout.mask = mask;
  return row;
}
Row bit_at(std::uint16_t address, int position, Point point) {
  Row row = row_at(address, point, Type::bit);
  row.bit_position = position;
  return row;
}
Row masked(Row row, std::uint16_t mask) {
  row = writable(row);
  row.write_mask = mask;
  return row;
}

TEST_CASE("any part of a 64-bit value is read from one reading, unless that is refused") {
  Points points;
  points[Point::heartbeat] = 0x123456789ABCp0;
  points[Point::state] = 3;
  for (const bool refused : {false, true}) {
    CAPTURE(refused);
    Row row = row_at(20, Point::heartbeat, Type::u64);
    row.split_refused = refused;
    const auto table = make({row_at(19, Point::state, Type::u16), row, row_at(24, Point::state, Type::u16)});
    CHECK(read_holding(table, 19, 6, points) == "0003 0000 1234 5678 9ABC 0003");
    const struct {
      std::uint16_t first, count;
      const char* words;
    } parts[] = {{20, 1, "0000"},           {21, 1, "1234"},      {21, 2, "1234 5678"},
                 {23, 2, "9ABC 0003"},      {19, 2, "0003 0000"}, {19, 4, "0003 0000 1234 5678"},
                 {20, 3, "0000 1234 5678"}, {22, 1, "5678"}};
    for (const auto& part : parts) {
      CAPTURE(part.first);
      points.reads = 0;
      CHECK(read_holding(table, part.first, part.count, points) == (refused ? "exception 02" : part.words));
      if (!refused) CHECK(points.reads <= 2);  // the value itself once
    }
  }
}

TEST_CASE("part of a 64-bit value cannot be written, the whole can") {
  Row row = writable(row_at(20, Point::heartbeat, Type::u64));
  row.layout.word_order = WordOrder::low_first;
  const auto table = make({writable(row_at(19, Point::comms_timeout, Type::u16)), row});
  Points points;
  for (std::uint16_t first = 19; first < 24; ++first) {
    for (std::uint16_t count = 1; count <= 4; ++count) {
      if (first == 20 && count == 4) continue;
      if (first == 19 && count == 1) continue;
      CAPTURE(first);
      CAPTURE(count);
      CHECK(write(table, first, List(count, 1), points) == "exception 02");
    }
  }
  CHECK(points.log.empty());
  CHECK(write(table, 19, {5, 0x0002, 0x0001, 0, 0}, points) == "done");
  CHECK(points[Point::heartbeat] == 65538);
}

TEST_CASE("a count beyond the whole numbers of a double is refused, not stored as another one") {
  // IEEE 754 binary64 has 53 bits of significand: 2^53 + 1 is the first whole number that it lacks.
  const auto table = make({writable(row_at(0, Point::heartbeat, Type::u64))});
  Points points;
  CHECK(write(table, 0, {0x0020, 0, 0, 0}, points) == "done");
  CHECK(write(table, 0, {0x0020, 0, 0, 2}, points) == "exception 03");
  CHECK(write(table, 0, {0xFFFF, 0xFFFF, 0xFFFF, 0xFFFF}, points) == "exception 03");
  CHECK(points[Point::heartbeat] == 9007199254740992.0);
}

TEST_CASE("digits that are none are refused like any value that cannot be") {
  Row row = writable(row_at(0, Point::heartbeat, Type::u16));
  row.layout.coding = Coding::bcd;
  Points points;
  CHECK(write(make({row}), 0, {0x0123}, points) == "done");
  CHECK(points[Point::heartbeat] == 123);
  CHECK(write(make({row}), 0, {0x012A}, points) == "exception 03");
  CHECK(points[Point::heartbeat] == 123);
}

TEST_CASE("text comes from the unit, fixed values from the table, whole and in part") {
  const auto table =
      make({text_at(0, 3, TextPoint::revision), text_at(3, 2, std::nullopt, "EL"),
            fixed_at(5, Type::u16, 4711), fixed_at(6, Type::s32, -2), row_at(8, Point::state, Type::u16)});
  Points points;
  points[Point::state] = 3;
  // "revision" in ASCII: 72 65 76 69 73 69 6F 6E; 4711 is 1267h
  CHECK(read_holding(table, 0, 9, points) == "7265 7669 7369 454C 0000 1267 FFFF FFFE 0003");
  CHECK(read_holding(table, 1, 1, points) == "7669");
  CHECK(read_holding(table, 2, 2, points) == "7369 454C");
  CHECK(read_holding(table, 7, 1, points) == "FFFE");
  CHECK(points.saturations.empty());
}

TEST_CASE("text and fixed values are nobody's point") {
  auto parts = TableParts{};
  parts.rows = {text_at(0, 4, TextPoint::product_code), fixed_at(4, Type::u16, 1),
                text_at(10, 4, TextPoint::product_code)};
  parts.rows[0].table = modbus::Table::input_registers;
  const auto table = make(parts);
  CHECK(table->find(Point::setpoint) == nullptr);
  CHECK(table->find(Point::setpoint, true) == nullptr);
  CHECK_FALSE(table->keeps(Point::setpoint));
  REQUIRE(table->find_text(TextPoint::product_code) != nullptr);
  CHECK(table->find_text(TextPoint::product_code)->address == 10);  // holding registers first
  CHECK(table->find_text(TextPoint::vendor_name) == nullptr);
  CHECK(name_of(table->rows()[0]) == "product_code");
  CHECK(name_of(table->rows()[1]) == "fixed");
}

TEST_CASE("text and fixed values cannot be written, nor a block that runs over them") {
  const auto table = make({writable(row_at(0, Point::heartbeat, Type::u16)), fixed_at(1, Type::u16, 7),
                           text_at(2, 2, TextPoint::vendor_name)});
  Points points;
  CHECK(write(table, 1, {7}, points) == "exception 02");
  CHECK(write(table, 0, {1, 7}, points) == "exception 02");
  CHECK(write(table, 2, {0x4142, 0x4344}, points) == "exception 02");
  CHECK(points.log.empty());
}

TEST_CASE("bits of one register are read together and written together") {
  const auto table =
      make({writable(bits_at(4, 0x0003, Point::comms_policy)), writable(bit_at(4, 7, Point::reset)),
            writable(bits_at(4, 0xFF00, Point::heartbeat))});
  Points points;
  points[Point::comms_policy] = 2;
  points[Point::heartbeat] = 0x5A;
  CHECK(read_holding(table, 4, 1, points) == "5A02");
  CHECK(write(table, 4, {0x1181}, points) == "done");
  CHECK(points[Point::comms_policy] == 1);
  CHECK(points[Point::reset] == 1);
  CHECK(points[Point::heartbeat] == 0x11);
  points.log.clear();
  CHECK(write(table, 4, {0x2203}, points) == "exception 03");  // a policy 3 there is not: all or nothing
  CHECK(points[Point::heartbeat] == 0x11);
  for (const auto& entry : points.log) CHECK(entry.starts_with("refused"));
}

TEST_CASE("a write changes the bits its mask lets through, and no others") {
  const auto table = make({masked(row_at(0, Point::heartbeat, Type::u16), 0x00F0)});
  Points points;
  points[Point::heartbeat] = 0x1234;
  CHECK(write(table, 0, {0xFFFF}, points) == "done");
  CHECK(points[Point::heartbeat] == 0x12F4);
  CHECK(write(table, 0, {0x0000}, points) == "done");
  CHECK(points[Point::heartbeat] == 0x1204);
  CHECK(read_holding(table, 0, 1, points) == "1204");
}

TEST_CASE("a write mask counts from the lowest bit of the value, whatever the order of the bytes") {
  Row row = masked(row_at(0, Point::heartbeat, Type::u16), 0x00F0);
  row.layout.byte_order = ByteOrder::low_first;
  Points points;
  points[Point::heartbeat] = 0x1234;
  CHECK(write(make({row}), 0, {0xFFFF}, points) == "done");
  CHECK(points[Point::heartbeat] == 0x12F4);
}

TEST_CASE("what a mask leaves alone is not written, read-only or not") {
  const auto table =
      make({masked(bit_at(6, 0, Point::setpoint_source), 0x0001), bits_at(6, 0x00F0, Point::state),
            masked(bit_at(6, 8, Point::reset), 0x0100), writable(bits_at(6, 0x0600, Point::comms_policy))});
  Points points;
  points[Point::state] = 6;
  CHECK(write(table, 6, {0x0531}, points) ==
        "done");  // the mask is 0x0701: a row without one brings its bits
  CHECK(points.log == Log{"accepted setpoint_source 1", "wrote setpoint_source 1", "accepted reset 1",
                          "wrote reset 1", "accepted comms_policy 2", "wrote comms_policy 2"});
  CHECK(points[Point::state] == 6);
  CHECK(read_holding(table, 6, 1, points) == "0561");
}

TEST_CASE("a mask that reaches into a read-only row makes the write a 02") {
  const auto table =
      make({masked(bit_at(6, 0, Point::setpoint_source), 0x00F1), bits_at(6, 0x00F0, Point::state)});
  Points points;
  CHECK(write(table, 6, {0x0001}, points) == "exception 02");
  CHECK(points.log.empty());
}

TEST_CASE("a masked register in a refused block keeps what it was") {
  const auto table = make({masked(row_at(0, Point::heartbeat, Type::u16), 0x00FF),
                           writable(row_at(1, Point::comms_policy, Type::u16))});
  Points points;
  points[Point::heartbeat] = 0x1234;
  CHECK(write(table, 0, {0xFFFF, 9}, points) == "exception 03");
  CHECK(points[Point::heartbeat] == 0x1234);
}

TEST_CASE("merging leaves no trace: what stands outside a mask is never told as saturated") {
  Row row = masked(bits_at(0, 0x00FF, Point::heartbeat), 0x000F);
  Points points;
  points[Point::heartbeat] = 1000;  // more than the mask holds
  CHECK(write(make({row}), 0, {0x0000}, points) == "done");
  CHECK(points.saturations.empty());
}

TEST_CASE("a mask write leaves what its AND mask says and takes what its OR mask says") {
  // MODBUS Application Protocol V1.1b3, 6.16: result = (current AND And_Mask) OR (Or_Mask AND (NOT
  // And_Mask)); its example: current 12h, And_Mask F2h, Or_Mask 25h give 17h. A master carries it out by hand
  // here, reading and writing the register, as the function does it.
  const auto table = make({writable(row_at(4, Point::heartbeat, Type::u16))});
  const auto masked_table = make({masked(row_at(4, Point::heartbeat, Type::u16), 0x000F)});
  Points points;
  const auto mask_write = [&](const test::Table& in, unsigned and_mask, unsigned or_mask) {
    const auto now = in->read_registers(modbus::Table::holding_registers, {4, 1}, points);
    REQUIRE(now.has_value());
    const unsigned word = (*now)[0];
    return write(in, 4, {static_cast<std::uint16_t>((word & and_mask) | (or_mask & ~and_mask))}, points);
  };
  points[Point::heartbeat] = 0x12;
  CHECK(mask_write(table, 0xF2, 0x25) == "done");
  CHECK(points[Point::heartbeat] == 0x17);
  points[Point::heartbeat] = 0x12;
  CHECK(mask_write(masked_table, 0x00, 0xA5) == "done");  // only the low four bits may change
  CHECK(points[Point::heartbeat] == 0x15);
}

TEST_CASE("a register mirrored into the input table has no write mask to be asked for") {
  TableParts parts;
  parts.rows = {masked(row_at(0, Point::heartbeat, Type::u16), 0x00FF), text_at(1, 1, std::nullopt, "AB")};
  parts.input_same_as_holding = true;
  const auto table = make(parts);
  Points points;
  points[Point::heartbeat] = 7;
  CHECK(read_input(table, 0, 2, points) == "0007 4142");
  for (const auto& row : table->rows())
    if (row.table == modbus::Table::input_registers) CHECK_FALSE(row.write_mask.has_value());
}

TEST_CASE("masked writes equal the formula, at random masks, words and orders") {
  Random random(5);
  for (int i = 0; i < 2000; ++i) {
    const auto mask = static_cast<std::uint16_t>(1 + random.below(0xFFFF));
    const auto before = static_cast<std::uint16_t>(random.below(0x10000));
    const auto word = static_cast<std::uint16_t>(random.below(0x10000));
    const auto table = make({masked(row_at(9, Point::heartbeat, Type::u16), mask)});
    Points points;
    points[Point::heartbeat] = before;
    REQUIRE(write(table, 9, {word}, points) == "done");
    REQUIRE(points[Point::heartbeat] == ((before & ~unsigned{mask} & 0xFFFFu) | (word & unsigned{mask})));
  }
}

TEST_CASE("flags stand in any bit of 64, and words in a few bits of a register") {
  Row flags = row_at(0, Point::warnings, Type::u64);
  flags.flags = {{static_cast<int>(Warning::comms_loss), 63}, {static_cast<int>(Warning::load_open), 0}};
  Row some = bits_at(4, 0x0C00, Point::warnings);
  some.flags = {{static_cast<int>(Warning::comms_loss), 1}};
  Row state = bits_at(4, 0x000F, Point::state);
  state.values = {{static_cast<int>(State::tripped), 15}};
  const auto table = make({flags, some, state});
  Points points;
  points[Point::warnings] = bit(Warning::comms_loss) | bit(Warning::load_open) | bit(Warning::supply_low);
  points[Point::state] = static_cast<double>(State::tripped);
  CHECK(read_holding(table, 0, 5, points) == "8000 0000 0000 0001 080F");
  const List words{0x8000, 0, 0, 1};
  CHECK(decode_row(flags, words) == (bit(Warning::comms_loss) | bit(Warning::load_open)));
  CHECK(decode_row(state, List{0xFFFF}) == static_cast<double>(State::tripped));
}

}  // namespace
}  // namespace emberline::registers
