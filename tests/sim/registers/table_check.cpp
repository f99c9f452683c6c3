// Tables that cannot be used are refused, with the row's place and the reason.
#include <limits>

#include <doctest/doctest.h>

#include "tests/sim/registers/points.hpp"

namespace emberline::registers {
namespace {

using test::row_at;
using test::with_range;
using test::writable;

std::vector<std::string> problems_of(std::vector<Row> rows, bool input_same_as_holding = false) {
  TableParts parts;
  parts.rows = std::move(rows);
  parts.input_same_as_holding = input_same_as_holding;
  const auto made = make_register_table(std::move(parts));
  std::vector<std::string> texts;
  if (!made)
    for (const auto& problem : made.error()) texts.push_back(to_text(problem));
  return texts;
}

Row changed(Row row, void (*change)(Row&)) {
  change(row);
  return row;
}

TEST_CASE("a row that cannot be is refused with its place and the reason") {
  constexpr double kInfinity = std::numeric_limits<double>::infinity();
  const Row setpoint = row_at(4, Point::setpoint, Type::u16, 0.001);
  const Row state = row_at(4, Point::state, Type::u16);
  const Row warnings = row_at(4, Point::warnings, Type::u16);
  const struct {
    Row row;
    const char* message;
  } rows[] = {
      {writable(row_at(4, Point::load_power, Type::u16)), "this point cannot be written"},
      {changed(writable(setpoint), [](Row& r) { r.table = modbus::Table::input_registers; }),
       "input registers cannot be written"},
      {changed(setpoint, [](Row& r) { r.table = modbus::Table::coils; }),
       "carry single bits: expected type bit, found u16"},
      {changed(setpoint, [](Row& r) { r.table = modbus::Table::discrete_inputs; }), "expected type bit"},
      {changed(row_at(4, Point::reset, Type::bit),
               [](Row& r) {
                 r.table = modbus::Table::coils;
                 r.bit_position = 1;
               }),
       "has no bit position"},
      {changed(row_at(4, Point::reset, Type::bit), [](Row& r) { r.bit_position = 16; }),
       "a position from 0 to 15, found 16"},
      {changed(row_at(4, Point::reset, Type::bit), [](Row& r) { r.bit_position = -1; }),
       "a position from 0 to 15, found -1"},
      {changed(row_at(4, Point::setpoint, Type::u32), [](Row& r) { r.bit_position = 3; }),
       "only the type bit has a bit position, found type u32"},
      {row_at(4, Point::setpoint, Type::u16, 0.0), "scale has to be a number other than 0"},
      {row_at(4, Point::setpoint, Type::u16, kInfinity), "scale has to be a number other than 0"},
      {row_at(4, Point::state, Type::u16, 0.1), "has no scale"},
      {row_at(4, Point::warnings, Type::u16, 2.0), "has no scale"},
      {with_range(setpoint, 0, 100),
       "the range 0 % to 10000 % does not fit the type u16, which with this scale carries 0 % to 6553.5 %"},
      {with_range(row_at(4, Point::comms_timeout, Type::u32, 0.001), 0, 5e6), "carries 0 s to 4294967.295 s"},
      {with_range(setpoint, 0, 2), "the range 0 % to 200 % is wider than setpoint takes: 0 % to 100 %"},
      {with_range(writable(setpoint), 0, 1.001), "the range 0 % to 100.1 % is wider than setpoint takes"},
      {with_range(row_at(4, Point::setpoint, Type::s16, 0.001), -0.5, 1),
       "the range -50 % to 100 % is wider than setpoint takes"},
      {with_range(row_at(4, Point::comms_timeout, Type::f32), 0, 2e6),
       "the range 0 s to 2000000 s is wider than comms_timeout takes: 0 s to 1000000 s"},
      {with_range(row_at(4, Point::comms_policy, Type::u16), 0, 3),
       "the range 0 to 3 is wider than comms_policy takes: 0 to 2"},
      {with_range(row_at(4, Point::setpoint_source, Type::u16), 0, 2),
       "is wider than setpoint_source takes: 0 to 1"},
      {with_range(row_at(4, Point::reset, Type::u16), 0, 2), "is wider than reset takes: off to on"},
      {with_range(setpoint, -0.1, 1), "the range -10 % to 100 % does not fit"},
      {with_range(setpoint, 1, 0), "from a lower to a higher value"},
      {with_range(setpoint, 0, kInfinity), "from a lower to a higher value"},
      {with_range(row_at(4, Point::reset, Type::bit), 0, 2), "does not fit the type bit"},
      {changed(state,
               [](Row& r) {
                 r.values = {{3, 70000}};
               }),
       "the number 70000 does not fit the type u16"},
      {changed(state,
               [](Row& r) {
                 r.values = {{3, -1}};
               }),
       "the number -1 does not fit the type u16"},
      {changed(row_at(4, Point::state, Type::f32),
               [](Row& r) {
                 r.values = {{3, 16777217}};
               }),
       "the number 16777217 does not fit the type f32"},
      {changed(state,
               [](Row& r) {
                 r.values = {{8, 80}};
               }),
       "`values` names 8, which the point does not have"},
      {changed(state,
               [](Row& r) {
                 r.values = {{3, 6}};
               }),
       "the number 6 would mean both running and inhibited"},
      {changed(setpoint,
               [](Row& r) {
                 r.values = {{3, 10}};
               }),
       "no words to number"},
      {changed(row_at(4, Point::state, Type::bit),
               [](Row& r) {
                 r.values = {{3, 1}};
               }),
       "a single bit cannot carry `values`"},
      {changed(warnings,
               [](Row& r) {
                 r.flags = {{0, 16}};
               }),
       "bit 16 does not fit the type u16: expected 0 to 15"},
      {changed(row_at(4, Point::warnings, Type::s16),
               [](Row& r) {
                 r.flags = {{0, 15}};
               }),
       "bit 15 does not fit the type s16: expected 0 to 14"},
      {changed(warnings,
               [](Row& r) {
                 r.flags = {{0, -1}};
               }),
       "bit -1 does not fit"},
      {changed(warnings,
               [](Row& r) {
                 r.flags = {{0, 5}, {1, 5}};
               }),
       "bit 5 is used for two flags"},
      {changed(warnings,
               [](Row& r) {
                 r.flags = {{13, 5}};
               }),
       "no flag has the number 13"},
      {changed(setpoint,
               [](Row& r) {
                 r.flags = {{0, 5}};
               }),
       "`flags` places the bits of warnings or trips"},
      {row_at(4, Point::trips, Type::f32), "a bit field needs an integer type, found f32"},
      {changed(row_at(4, Point::trips, Type::bit), [](Row& r) { r.flag = 6; }), "no flag has the number 6"},
      {changed(row_at(4, Point::setpoint, Type::bit), [](Row& r) { r.flag = 0; }), "`flag` picks one bit"},
      {changed(warnings, [](Row& r) { r.flag = 0; }), "`flag` picks one bit"},
      {row_at(65535, Point::load_power, Type::f32),
       "a f32 takes two registers and would run past the last address"},
      {changed(setpoint, [](Row& r) { r.layout.mask = 0x00F0; }),
       "only the type bits has a mask, found type u16"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.message);
    const auto problems = problems_of({row.row});
    REQUIRE(problems.size() == 1);
    CAPTURE(problems[0]);
    CHECK(problems[0].find(row.message) != std::string::npos);
    const auto place = row.row.address == 65535 ? "table.yaml:65536:5: " : "table.yaml:5:5: ";
    CHECK(problems[0].starts_with(place));
    CHECK(problems[0].find(both_ways(row.row.address, row.row.table)) != std::string::npos);
  }
}

TEST_CASE("masks, codings, text and fixed values that cannot be are refused, one line each") {
  const auto bits = [](std::uint16_t mask) {
    Row row = row_at(4, Point::heartbeat, Type::bits);
    row.layout.mask = mask;
    return row;
  };
  const auto coded = [](Type type, Coding coding) {
    Row row = row_at(4, Point::heartbeat, type);
    row.layout.coding = coding;
    return row;
  };
  const auto masked = [](Row row, std::uint16_t mask) {
    row.write_mask = mask;
    return row;
  };
  const auto text = [](int size, const char* fixed) {
    Row row = row_at(4, Point::setpoint, Type::text);
    row.layout.text_registers = size;
    row.fixed_text = fixed;
    return row;
  };
  const auto fixed = [](Type type, double count) {
    Row row = row_at(4, Point::setpoint, type);
    row.fixed = count;
    return row;
  };
  const Row beat = writable(row_at(4, Point::heartbeat, Type::u16));
  const struct {
    Row row;
    const char* message;
  } rows[] = {
      {bits(0),
       "heartbeat at 0x0004 (40005): the type bits needs a mask of bits without a gap, such as 0x00F0, found "
       "none"},
      {bits(0x0105), "a mask of bits without a gap, such as 0x00F0, found 0x0105"},
      {changed(bits(1), [](Row& r) { r.table = modbus::Table::coils; }), "expected type bit, found bits"},
      {coded(Type::s16, Coding::bcd), "the coding bcd needs the type u16, u32 or u64, found s16"},
      {coded(Type::f32, Coding::bcd), "the coding bcd needs"},
      {coded(Type::bit, Coding::bcd), "the coding bcd needs"},
      {coded(Type::u32, Coding::sign_magnitude),
       "the coding sign-magnitude needs the type s16 or s32, found u32"},
      {coded(Type::bits, Coding::sign_magnitude), "the coding sign-magnitude needs"},
      {changed(coded(Type::u16, Coding::bcd), [](Row& r) { r.point = Point::trips; }),
       "a bit field needs the coding binary, found bcd"},
      {changed(bits(0x00F0), [](Row& r) { r.point = Point::trips; }),
       "its bits go up to 5, and the type bits has room for 4 here"},
      {changed(bits(0x00F0),
               [](Row& r) {
                 r.point = Point::trips;
                 r.flags = {{0, 4}};
               }),
       "bit 4 does not fit the type bits: expected 0 to 3"},
      {changed(bits(0x0007),
               [](Row& r) {
                 r.point = Point::state;
                 r.values = {{7, 9}};
               }),
       "the number 9 does not fit the type bits"},
      {changed(bits(0x0003), [](Row& r) { r.point = Point::state; }),
       "the mask has room for 0 to 3, and holding is 4: expected `values` that says how it is carried"},
      {with_range(coded(Type::u16, Coding::bcd), 0, 10000), "which with this scale carries 0 to 9999"},
      {with_range(row_at(4, Point::heartbeat, Type::u64), 0, 1e16),
       "does not fit the type u64, which with this scale carries 0 to 9007199254740992"},
      {masked(writable(row_at(4, Point::heartbeat, Type::u32)), 1),
       "a write mask needs a type of one register, found u32"},
      {masked(row_at(4, Point::heartbeat, Type::u16), 1), "a row that is read-only has no write mask"},
      {masked(changed(row_at(4, Point::state, Type::u16),
                      [](Row& r) { r.table = modbus::Table::input_registers; }),
              1),
       "only holding registers have a write mask"},
      {masked(changed(writable(row_at(4, Point::reset, Type::bit)),
                      [](Row& r) { r.table = modbus::Table::coils; }),
              1),
       "only holding registers have a write mask"},
      {masked(writable(bits(0x00F0)), 0x000F), "the write mask 0x000F lets through no bit of this row"},
      {masked(beat, 0), "the write mask none lets through no bit"},
      {text(0, ""), "fixed at 0x0004 (40005): text takes 1 to 122 registers, found 0"},
      {text(123, ""), "text takes 1 to 122 registers, found 123"},
      {text(2, "EL-24"), "the text has 5 characters, and 2 registers hold 4"},
      {text(2, "a\nb"), "has to be of printable ASCII characters"},
      {changed(text(2, ""),
               [](Row& r) {
                 r.text = TextPoint::revision;
                 r.access = Access::read_write;
               }),
       "revision at 0x0004 (40005): text cannot be written: expected access read-only"},
      {changed(text(2, "AB"), [](Row& r) { r.text = TextPoint::revision; }), "not both"},
      {changed(text(2, ""), [](Row& r) { r.fixed = 5; }), "states characters, not the number 5"},
      {changed(text(2, ""), [](Row& r) { r.layout.scale = 2; }), "text stands as it is"},
      {changed(text(2, ""), [](Row& r) { r.layout.word_order = WordOrder::low_first; }),
       "text has no coding"},
      {changed(beat, [](Row& r) { r.text = TextPoint::revision; }), "expected type text, found u16"},
      {fixed(Type::u16, 65536),
       "the number 65536 does not fit the type u16: expected a whole number from 0 to 65535"},
      {fixed(Type::u16, -1), "the number -1 does not fit the type u16"},
      {fixed(Type::u16, 0.5), "the number 0.5 does not fit the type u16"},
      {fixed(Type::bit, 2), "the number 2 does not fit the type bit: expected a whole number from 0 to 1"},
      {changed(fixed(Type::u16, 1), [](Row& r) { r.access = Access::write_only; }),
       "a fixed number cannot be written"},
      {changed(fixed(Type::u16, 1), [](Row& r) { r.kept = true; }), "a fixed number stands as it is"},
      {changed(fixed(Type::u16, 1),
               [](Row& r) {
                 r.range = {0, 1};
               }),
       "a fixed number stands as it is"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.message);
    const auto problems = problems_of({row.row});
    REQUIRE(problems.size() == 1);
    CAPTURE(problems[0]);
    CHECK(problems[0].find(row.message) != std::string::npos);
  }
}

TEST_CASE("rows that overlap are refused, and the message names the other one") {
  const auto bit_at = [](std::uint16_t address, int position, Point point) {
    Row row = row_at(address, point, Type::bit);
    row.bit_position = position;
    return row;
  };
  const auto bits_at = [](std::uint16_t mask) {
    Row row = row_at(10, Point::heartbeat, Type::bits);
    row.layout.mask = mask;
    return row;
  };
  const Row wide = row_at(10, Point::load_power, Type::f32);
  const struct {
    const char* why;
    Row first;
    Row second;
    bool overlap;
  } rows[] = {
      {"the same register", row_at(10, Point::setpoint, Type::u16), row_at(10, Point::state, Type::u16),
       true},
      {"neighbours", row_at(10, Point::setpoint, Type::u16), row_at(11, Point::state, Type::u16), false},
      {"second half", wide, row_at(11, Point::state, Type::u16), true},
      {"behind", wide, row_at(12, Point::state, Type::u16), false},
      {"before", row_at(9, Point::state, Type::u16), wide, false},
      {"two wide ones", wide, row_at(11, Point::energy, Type::u32, 3600), true},
      {"the later one first", row_at(11, Point::energy, Type::u32, 3600), wide, true},
      {"a bit in a number", row_at(10, Point::state, Type::u16), bit_at(10, 3, Point::trips), true},
      {"the same bit", bit_at(10, 3, Point::trips), bit_at(10, 3, Point::warnings), true},
      {"bits beside a bit", bits_at(0x00F0), bit_at(10, 3, Point::warnings), false},
      {"a bit among bits", bits_at(0x00F0), bit_at(10, 4, Point::warnings), true},
      {"bits among bits", bits_at(0x00F0), bits_at(0x0180), true},
      {"bits in a number", row_at(10, Point::state, Type::u16), bits_at(0x0001), true},
      {"the last of four", row_at(10, Point::energy, Type::u64, 3600), row_at(13, Point::state, Type::u16),
       true},
      {"behind four", row_at(10, Point::energy, Type::u64, 3600), row_at(14, Point::state, Type::u16), false},
      {"two bits", bit_at(10, 3, Point::trips), bit_at(10, 4, Point::warnings), false},
  };
  for (const auto& row : rows) {
    CAPTURE(row.why);
    const auto problems = problems_of({row.first, row.second});
    REQUIRE(problems.size() == (row.overlap ? 1 : 0));
    if (!row.overlap) continue;
    CAPTURE(problems[0]);
    const auto& other = row.first;
    const std::string names = std::string(point_info(other.point).name) + " at " +
                              both_ways(other.address, other.table) + ", line " +
                              std::to_string(other.place.line);
    CHECK(problems[0].ends_with("overlaps " + names));
    CHECK(problems[0].starts_with("table.yaml:" + std::to_string(row.second.place.line) + ":5: "));
  }
}

TEST_CASE("rows that share a register agree on the order of its bytes") {
  Row low = row_at(10, Point::trips, Type::bit);
  low.layout.byte_order = ByteOrder::low_first;
  Row high = row_at(10, Point::reset, Type::bit);
  high.bit_position = 1;
  const auto problems = problems_of({high, low});
  REQUIRE(problems.size() == 1);
  CHECK(problems[0].find(
            "trips at 0x000A (40011) has another byte order than reset at 0x000A (40011), line 11, "
            "with which it shares the register") != std::string::npos);
}

TEST_CASE("many rows at one address are told once each, and no more of them than somebody would read") {
  std::vector<Row> rows;
  for (int i = 0; i < 30; ++i) rows.push_back(row_at(10, Point::state, Type::u16));
  CHECK(problems_of(rows).size() == 29);
  for (int i = 0; i < 2000; ++i) rows.push_back(rows.back());
  const auto problems = problems_of(rows);
  REQUIRE(problems.size() == 51);
  CHECK(problems.back().ends_with("and 1979 more rows up to here that overlap others"));
}

TEST_CASE("the same address in two tables is no overlap") {
  Row input = row_at(10, Point::state, Type::u16);
  input.table = modbus::Table::input_registers;
  CHECK(problems_of({row_at(10, Point::setpoint, Type::u16), input}).empty());
}

TEST_CASE("input registers of their own do not go with `same as holding`") {
  Row input = row_at(10, Point::state, Type::u16);
  input.table = modbus::Table::input_registers;
  const auto problems = problems_of({row_at(0, Point::setpoint, Type::u16), input}, true);
  REQUIRE(problems.size() == 1);
  CHECK(problems[0] ==
        "table.yaml:11:5: input registers that are the same as holding leave no place for rows of "
        "their own, found state");
}

TEST_CASE("all problems of a table are told at once, in the order of the rows") {
  const auto problems =
      problems_of({row_at(8, Point::setpoint, Type::u16, 0.0), writable(row_at(2, Point::trips, Type::u16)),
                   row_at(8, Point::state, Type::u16)});
  REQUIRE(problems.size() == 3);
  CHECK(problems[0].starts_with("table.yaml:9:"));
  CHECK(problems[1].starts_with("table.yaml:3:"));
  CHECK(problems[2].find("state at 0x0008 (40009) overlaps setpoint at 0x0008 (40009), line 9") !=
        std::string::npos);
}

TEST_CASE("sound rows at the very limits are taken") {
  CHECK(problems_of({row_at(65534, Point::load_power, Type::f32),
                     with_range(row_at(0, Point::output, Type::u16, 0.001), 0, 65.535),
                     with_range(row_at(1, Point::comms_age, Type::s16, -0.1), -3276.7, 3276.8),
                     with_range(row_at(2, Point::setpoint, Type::u16, 0.1 * 0.01), 0, 100 * 0.01),
                     with_range(row_at(3, Point::setpoint_source, Type::u16), 0, 1),
                     with_range(row_at(4, Point::comms_timeout, Type::f32), 0, 1e6),
                     with_range(row_at(6, Point::comms_policy, Type::u16), 0, 2),
                     with_range(row_at(7, Point::heartbeat, Type::u32), 0, 4294967295.0),
                     with_range(row_at(9, Point::reset, Type::u16), 0, 1),
                     row_at(65533, Point::trips, Type::s16)})
            .empty());
}

}  // namespace
}  // namespace emberline::registers
