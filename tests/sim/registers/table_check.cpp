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
      {row_at(65535, Point::load_power, Type::f32), "would run past the last address"},
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

TEST_CASE("rows that overlap are refused, and the message names the other one") {
  const auto bit_at = [](std::uint16_t address, int position, Point point) {
    Row row = row_at(address, point, Type::bit);
    row.bit_position = position;
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
