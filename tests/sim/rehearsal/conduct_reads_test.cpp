#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/sim/rehearsal/conduct_stage.hpp"

using namespace emberline;
using namespace emberline::testing;
using namespace std::chrono_literals;
using rehearsal::ConductKind;
using Comparator = rehearsal::Condition::Comparator;
using Judged = rehearsal::Outcome::Result;

namespace {

constexpr auto kPassed = Judged::passed;
constexpr auto kFailed = Judged::failed;
constexpr auto kNotJudged = Judged::not_judged;

rehearsal::Conduct poll(Comparator comparator, double a, double b = 0.0) {
  rehearsal::Conduct conduct;
  conduct.kind = ConductKind::poll_period;
  conduct.name = "heater.state";
  conduct.point = registers::Point::state;
  conduct.condition = compared(comparator, a, b, Dimension::time);
  return conduct;
}

/// A read of setpoint and of nothing else, at zero-based address 0.
Deed read_setpoint(Duration at) { return read_of(at, 0, 1); }

}  // namespace

TEST_CASE("a poll period is measured from or to the wrong read") {
  struct Row {
    const char* what;
    Comparator comparator;
    double a, b;
    std::vector<Duration> reads;
    Judged result;
    const char* happened;
    Duration decided;
  };
  const Row rows[] = {
      {"in time",
       Comparator::at_most,
       2.5,
       0,
       {10s, 12s, 14s},
       kPassed,
       "3 reads came, 2 s apart, the last at 14 s, 6 s before the end",
       20s},
      {"at the very limit",
       Comparator::at_most,
       2.5,
       0,
       {10s, 12s + 500ms, 14s},
       kPassed,
       "3 reads came, 1.5 s to 2.5 s apart, the last at 14 s, 6 s before the end",
       20s},
      {"a little late",
       Comparator::at_most,
       2.5,
       0,
       {10s, 12s + 501ms, 14s},
       kFailed,
       "from the read at 10 s to that at 12.501 s by plc it took 2.501 s",
       12s + 501ms},
      {"what came before the interval is no beginning",
       Comparator::at_most,
       2.5,
       0,
       {5s, 10s, 12s},
       kPassed,
       "2 reads came, 2 s apart, the last at 12 s, 8 s before the end",
       20s},
      {"nor is the end of the interval an end",
       Comparator::at_most,
       2.5,
       0,
       {10s, 12s},
       kPassed,
       "2 reads came, 2 s apart, the last at 12 s, 8 s before the end",
       20s},
      {"too often",
       Comparator::at_least,
       1,
       0,
       {10s, 11s, 11s + 900ms},
       kFailed,
       "from the read at 11 s to that at 11.9 s by plc it took 0.9 s",
       11s + 900ms},
      {"twice at one instant",
       Comparator::at_least,
       1,
       0,
       {11s, 11s},
       kFailed,
       "from the read at 11 s to that at 11 s by plc it took 0 s",
       11s},
      {"near enough",
       Comparator::near,
       2,
       0.1,
       {10s, 11s + 900ms, 14s},
       kPassed,
       "3 reads came, 1.9 s to 2.1 s apart, the last at 14 s, 6 s before the end",
       20s},
      {"between",
       Comparator::between,
       1,
       2,
       {10s, 12s, 14s + 1ms},
       kFailed,
       "from the read at 12 s to that at 14.001 s by plc it took 2.001 s",
       14s + 1ms},
      {"once",
       Comparator::at_most,
       2.5,
       0,
       {5s, 11s, 25s},
       kNotJudged,
       "heater.state was read once only, at 11 s",
       20s},
      {"never", Comparator::at_most, 2.5, 0, {}, kNotJudged, "nobody read heater.state", 20s},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    std::vector<Deed> deeds;
    for (const auto at : row.reads) deeds.push_back(read_of(at, 1, 1));
    const auto found = played(poll(row.comparator, row.a, row.b), deeds, 10s, 20s);
    CHECK(found.result == row.result);
    CHECK(found.happened == std::string(row.happened));
    CHECK(found.at == SimTime{row.decided});
  }
  CHECK(played(poll(Comparator::at_most, 2.5), {read_of(10s, 1, 1), read_of(11s, 1, 1)}, 10s, 20s).expected ==
        "at most 2.5 s from each read of heater.state to the next");
}

TEST_CASE("a read counts that does not bring the point, or one that brings it does not count") {
  // setpoint at 0, state at 1, both in holding registers; load power as a float at 0x10 and, as a whole
  // number, at input register 0x20; the trip of comms loss as discrete input 3.
  using registers::Access;
  using registers::Point;
  auto bench = heated_bench();
  registers::TableParts parts;
  parts.rows = {row(0, Point::setpoint, 0.001, Access::read_write), row(1, Point::state, 1)};
  auto power = row(0x10, Point::load_power, 1);
  power.layout.type = registers::Type::f32;
  parts.rows.push_back(power);
  auto input = row(0x20, Point::load_power, 10);
  input.table = modbus::Table::input_registers;
  parts.rows.push_back(input);
  auto bit = row(3, Point::trips, 1);
  bit.table = modbus::Table::discrete_inputs;
  bit.layout.type = registers::Type::bit;
  bit.flag = 0;
  parts.rows.push_back(bit);
  bench.units[0].unit.table = registers::make_register_table(parts).value();

  const auto on = [](Deed deed, std::size_t line, std::uint8_t id) {
    deed.line = line;
    deed.id = id;
    return deed;
  };
  struct Row {
    const char* what;
    Point point;
    Deed read;
    bool counts;
  };
  const modbus::Bytes write_and_read{0x17, 0, 0x10, 0, 2, 0, 0, 0, 1, 2, 0, 100};
  const Row rows[] = {
      {"just it", Point::state, read_of(11s, 1, 1), true},
      {"in a block", Point::state, read_of(11s, 0, 2), true},
      {"beside it", Point::state, read_of(11s, 0, 1), false},
      {"behind it", Point::state, read_of(11s, 2, 5), false},
      {"in another table", Point::state, read_of(11s, 1, 1, 4), false},
      {"as a write of one register", Point::state, request_of(11s, {0x06, 0, 1, 0, 1}), false},
      {"both halves of a float", Point::load_power, read_of(11s, 0x10, 2), true},
      {"its first half", Point::load_power, read_of(11s, 0x10, 1), false},
      {"its second half", Point::load_power, read_of(11s, 0x11, 4), false},
      {"its other row", Point::load_power, read_of(11s, 0x20, 1, 4), true},
      {"by a request that writes, too", Point::load_power, request_of(11s, write_and_read), true},
      {"as a bit", Point::trips, read_of(11s, 0, 8, 2), true},
      {"as a bit beside it", Point::trips, read_of(11s, 4, 8, 2), false},
      {"without an answer: asked is enough", Point::state, request_of(11s, {3, 0, 1, 0, 1}, {}), true},
      {"refused: asked is enough", Point::state, request_of(11s, {3, 0, 1, 0, 1}, {0x83, 6}), true},
      {"over its other line", Point::state, on(read_of(11s, 1, 1), 1, 1), true},
      {"of another slave", Point::state, on(read_of(11s, 1, 1), 0, 2), false},
      {"of everybody, whom nobody reads", Point::state, on(read_of(11s, 1, 1), 0, 0), false},
      {"cut short", Point::state, request_of(11s, {3, 0, 1, 0}), false},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto conduct = poll(Comparator::at_most, 100);
    conduct.point = row.point;
    auto second = row.read;
    second.at += 1s;
    const auto found = played(conduct, {row.read, second}, 10s, 20s, false, bench);
    CHECK(found.result == (row.counts ? kPassed : kNotJudged));
  }
}

TEST_CASE("a read of somebody else stands for that of the stand-in that was named") {
  auto conduct = poll(Comparator::at_most, 2.5);
  conduct.by = "plc";
  const std::vector<Deed> deeds{read_by(10s, 1, "plc"), read_by(12s, 1, "scada"), read_by(14s, 1, "plc")};
  CHECK(played(conduct, deeds, 10s, 20s).result == kFailed);
  CHECK(played(conduct, deeds, 10s, 20s, false, heated_bench(), true).result == kPassed);
}

TEST_CASE("what a stand-in never did is told as if it had done it") {
  auto conduct = poll(Comparator::at_most, 2.5);
  conduct.by = "plc";
  CHECK(played(conduct, {}, 10s, 20s).happened == "plc never read " + conduct.name);
  CHECK(played(conduct, {read_by(12s, 1, "plc")}, 10s, 20s).happened ==
        conduct.name + " was read by plc once only, at 12 s");
  for (const auto kind : {ConductKind::read_back, ConductKind::read_before_write, ConductKind::first_write,
                          ConductKind::last_write, ConductKind::every_write}) {
    auto written = about_setpoint(kind);
    written.window = 2s;
    written.by = "plc";
    written.condition = compared(Comparator::at_most, 1);
    CHECK(played(written, {write_of(11s, 0.5, true, "scada")}, 10s, 20s).happened ==
          "plc never wrote heater.setpoint");
    written.by.clear();
    CHECK(played(written, {}, 10s, 20s).happened == "nobody wrote heater.setpoint");
  }
}

TEST_CASE("a written value counts as read back by a read that came too late, too early or to nothing") {
  const modbus::Bytes write_and_read{0x17, 0, 0, 0, 1, 0, 0, 0, 1, 2, 1, 0xF4};
  struct Row {
    const char* what;
    std::vector<Deed> deeds;
    Duration end;
    Judged result;
    const char* happened;
    Duration decided;
    bool until = false;
  };
  const Row rows[] = {
      {"in time",
       {write_of(11s, 0.5), read_setpoint(12s)},
       20s,
       kPassed,
       "the one there was, after 1 s",
       20s},
      {"at the last instant",
       {write_of(11s, 0.5), read_setpoint(13s)},
       20s,
       kPassed,
       "the one there was, after 2 s",
       20s},
      {"a little late",
       {write_of(11s, 0.5), read_setpoint(13s + 1ns)},
       20s,
       kFailed,
       "50 % by plc at 11 s was followed by no answered read of it until 13 s",
       13s},
      {"never",
       {write_of(11s, 0.5)},
       20s,
       kFailed,
       "50 % by plc at 11 s was followed by no answered read of it until 13 s",
       13s},
      {"a read before the write",
       {read_setpoint(11s), write_of(11s, 0.5)},
       20s,
       kFailed,
       "50 % by plc at 11 s was followed by no answered read of it until 13 s",
       13s},
      {"a read of another register",
       {write_of(11s, 0.5), read_of(12s, 1, 3)},
       20s,
       kFailed,
       "50 % by plc at 11 s was followed by no answered read of it until 13 s",
       13s},
      {"a read that is refused",
       {write_of(11s, 0.5), request_of(12s, {3, 0, 0, 0, 1}, {0x83, 6})},
       20s,
       kFailed,
       "50 % by plc at 11 s was followed by no answered read of it until 13 s",
       13s},
      {"a read without an answer",
       {write_of(11s, 0.5), request_of(12s, {3, 0, 0, 0, 1}, {})},
       20s,
       kFailed,
       "50 % by plc at 11 s was followed by no answered read of it until 13 s",
       13s},
      {"the read of the request that wrote",
       {write_of(11s, 0.5), request_of(11s, write_and_read)},
       20s,
       kPassed,
       "the one there was, after 0 s",
       20s},
      {"one read for two writes",
       {write_of(11s, 0.5), write_of(12s, 0.6), read_setpoint(13s)},
       20s,
       kPassed,
       "all 2 were, the slowest after 2 s",
       20s},
      {"in time for the second only",
       {write_of(11s, 0.5), write_of(12s, 0.6), read_setpoint(14s)},
       20s,
       kFailed,
       "50 % by plc at 11 s was followed by no answered read of it until 13 s",
       13s},
      {"the second is forgotten",
       {write_of(11s, 0.5), read_setpoint(12s), write_of(15s, 0.6)},
       20s,
       kFailed,
       "60 % by plc at 15 s was followed by no answered read of it until 17 s",
       17s},
      {"a refused write needs none",
       {write_of(11s, 0.5, false)},
       20s,
       kNotJudged,
       "nobody wrote heater.setpoint",
       20s},
      {"no write at all", {read_setpoint(12s)}, 20s, kNotJudged, "nobody wrote heater.setpoint", 20s},
      {"the window ends with the interval",
       {write_of(18s, 0.5)},
       20s,
       kFailed,
       "50 % by plc at 18 s was followed by no answered read of it until 20 s",
       20s},
      {"the window ends with until",
       {write_of(18s, 0.5)},
       20s,
       kNotJudged,
       "only 50 % by plc at 18 s was written to heater.setpoint, and the interval ended before it had to be "
       "read back",
       20s,
       true},
      {"one more whose window is not over",
       {write_of(11s, 0.5), read_setpoint(12s), write_of(19s, 0.6)},
       20s,
       kPassed,
       "the one there was, after 1 s",
       20s},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto conduct = about_setpoint(ConductKind::read_back);
    conduct.window = 2s;
    const auto found = played(conduct, row.deeds, 10s, row.end, row.until);
    CHECK(found.result == row.result);
    CHECK(found.happened == std::string(row.happened));
    CHECK(found.at == SimTime{row.decided});
  }
}

TEST_CASE("a program that writes before it has read is let off") {
  struct Row {
    const char* what;
    std::vector<Deed> deeds;
    Judged result;
    const char* happened;
  };
  const modbus::Bytes write_and_read{0x17, 0, 1, 0, 1, 0, 0, 0, 1, 2, 1, 0xF4};
  const Row rows[] = {
      {"read first",
       {read_of(11s, 1, 1), write_of(12s, 0.5)},
       kPassed,
       "it was read at 11 s, then written: 50 % by plc at 12 s"},
      {"read in a block",
       {read_of(11s, 0, 4), write_of(12s, 0.5)},
       kPassed,
       "it was read at 11 s, then written: 50 % by plc at 12 s"},
      {"written first",
       {write_of(11s, 0.5), read_of(12s, 1, 1)},
       kFailed,
       "it was written before that: 50 % by plc at 11 s"},
      {"both at once",
       {write_of(11s, 0.5), request_of(11s, write_and_read)},
       kFailed,
       "it was written before that: 50 % by plc at 11 s"},
      {"read before the interval",
       {read_of(9s, 1, 1), write_of(11s, 0.5)},
       kFailed,
       "it was written before that: 50 % by plc at 11 s"},
      {"asked, and refused",
       {request_of(11s, {3, 0, 1, 0, 1}, {0x83, 4}), write_of(12s, 0.5)},
       kFailed,
       "it was written before that: 50 % by plc at 12 s"},
      {"a refused write is one",
       {write_of(11s, 0.5, false), read_of(12s, 1, 1), write_of(13s, 0.5)},
       kFailed,
       "it was written before that: 50 % (refused) by plc at 11 s"},
      {"never written", {read_of(11s, 1, 1)}, kNotJudged, "nobody wrote heater.setpoint"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto conduct = about_setpoint(ConductKind::read_before_write);
    conduct.other_name = "heater.state";
    conduct.other_point = registers::Point::state;
    const auto found = played(conduct, row.deeds, 10s, 20s);
    CHECK(found.result == row.result);
    CHECK(found.happened == std::string(row.happened));
    if (row.result != kNotJudged)
      CHECK(found.expected == "an answered read of heater.state before the first write of heater.setpoint");
  }
}
