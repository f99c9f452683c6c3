#include <cmath>

#include <doctest/doctest.h>

#include "sim/base/random.hpp"
#include "tests/sim/registers/points.hpp"

namespace emberline::registers {
namespace {

using test::make;
using test::Points;
using test::row_at;
using test::text_of;
using test::with_range;
using test::writable;
using Log = std::vector<std::string>;
using Words = std::vector<std::uint16_t>;

std::string write(const test::Table& table, std::uint16_t first, const Words& words, Points& points) {
  return text_of(table->write_registers(first, words, points));
}

Row setpoint_at(std::uint16_t address, OutOfRange beyond = OutOfRange::exception_03) {
  return writable(with_range(row_at(address, Point::setpoint, Type::u16, 0.001), 0, 1, beyond));
}
Row float_setpoint_at(std::uint16_t address, OutOfRange beyond = OutOfRange::exception_03) {
  return writable(with_range(row_at(address, Point::setpoint, Type::f32, 0.01), 0, 1, beyond));
}
Row bit_at(std::uint16_t address, int position, Point point) {
  Row row = row_at(address, point, Type::bit);
  row.bit_position = position;
  return row;
}

// IEEE 754 binary32
constexpr std::uint16_t kNanHigh = 0x7FC0;
constexpr std::uint16_t kInfinityHigh = 0x7F80;
constexpr std::uint16_t kMinusInfinityHigh = 0xFF80;

TEST_CASE("a written value reaches its point in SI units, and the unit hears what was asked") {
  const auto table = make({setpoint_at(0x30), writable(row_at(0x31, Point::comms_timeout, Type::u16, 0.1))});
  Points points;
  CHECK(write(table, 0x30, {500}, points) == "done");
  CHECK(points[Point::setpoint] == 0.5);
  CHECK(points.log == Log{"accepted setpoint 0.5", "wrote setpoint 0.5"});
  points.log.clear();
  CHECK(write(table, 0x30, {1000, 30}, points) == "done");
  CHECK(points.log ==
        Log{"accepted setpoint 1", "wrote setpoint 1", "accepted comms_timeout 3", "wrote comms_timeout 3"});
}

TEST_CASE("writing an unmapped or read-only address is exception 02 and changes nothing") {
  const auto table = make({setpoint_at(10), writable(row_at(11, Point::heartbeat, Type::u16)),
                           row_at(12, Point::state, Type::u16), setpoint_at(14)});
  const struct {
    std::uint16_t first;
    Words words;
  } rows[] = {
      {9, {1}},         // unmapped
      {12, {1}},        // read-only
      {9, {1, 2}},      // begins in a gap
      {10, {1, 2, 3}},  // ends on a read-only one
      {13, {1, 2}},     // a gap, then a good one
      {14, {1, 2}},     // runs into the unmapped
      {11, {1, 2, 3, 4}}, {65535, {1}},
  };
  for (const auto gaps : {Gaps::exception, Gaps::zero}) {
    TableParts parts;
    parts.rows = table->rows();
    parts.gaps = gaps;
    const auto either = make(parts);
    for (const auto& row : rows) {
      CAPTURE(row.first);
      Points points;
      CHECK(write(either, row.first, row.words, points) == "exception 02");
      CHECK(points.log.empty());
    }
  }
}

TEST_CASE("input registers and rows mirrored into them cannot be written through the holding table's back") {
  TableParts parts;
  parts.rows = {row_at(0, Point::setpoint, Type::u16, 0.001)};
  parts.rows[0].table = modbus::Table::input_registers;
  Points points;
  CHECK(write(make(parts), 0, {1}, points) == "exception 02");
}

TEST_CASE("an address error comes before a value error, whatever the order in the block") {
  const auto table = make({setpoint_at(10), row_at(11, Point::state, Type::u16)});
  Points points;
  CHECK(write(table, 10, {60000, 1}, points) == "exception 02");
  CHECK(points.log.empty());
}

TEST_CASE("beyond its range a value is refused, clamped or ignored, as the row says") {
  const struct {
    OutOfRange beyond;
    const char* answer;
    Log log;
  } rows[] = {
      {OutOfRange::exception_03, "exception 03", {"refused setpoint 2"}},
      {OutOfRange::exception_04, "exception 04", {"refused setpoint 2"}},
      {OutOfRange::clamp, "done", {"clamped setpoint 2", "wrote setpoint 1"}},
      {OutOfRange::ignore, "done", {"ignored setpoint 2"}},
  };
  for (const auto& row : rows) {
    CAPTURE(static_cast<int>(row.beyond));
    const auto table = make({setpoint_at(0, row.beyond)});
    Points points;
    points[Point::setpoint] = 0.25;
    CHECK(write(table, 0, {2000}, points) == row.answer);
    CHECK(points.log == row.log);
    CHECK(points[Point::setpoint] == (row.beyond == OutOfRange::clamp ? 1.0 : 0.25));
    CHECK(write(table, 0, {1000}, points) == "done");  // the end itself is inside
    CHECK(points[Point::setpoint] == 1.0);
  }
}

TEST_CASE("a value below its range is clamped to the lower end") {
  const auto table = make(
      {writable(with_range(row_at(0, Point::comms_timeout, Type::s16, 0.1), 0.5, 60, OutOfRange::clamp))});
  Points points;
  CHECK(write(table, 0, {0xFFFF}, points) == "done");
  CHECK(points.log == Log{"clamped comms_timeout -0.1", "wrote comms_timeout 0.5"});
}

TEST_CASE("NaN and infinity are out of range, and have nothing to be clamped to") {
  const struct {
    OutOfRange beyond;
    const char* answer;
    const char* fate;
  } rows[] = {
      {OutOfRange::exception_03, "exception 03", "refused"},
      {OutOfRange::exception_04, "exception 04", "refused"},
      {OutOfRange::clamp, "exception 03", "refused"},
      {OutOfRange::ignore, "done", "ignored"},
  };
  for (const auto& row : rows) {
    for (const bool ranged : {true, false}) {
      for (const auto& special : {std::pair{kNanHigh, "nan"}, std::pair{kInfinityHigh, "inf"},
                                  std::pair{kMinusInfinityHigh, "-inf"}}) {
        CAPTURE(static_cast<int>(row.beyond));
        CAPTURE(special.second);
        CAPTURE(ranged);
        Row setpoint = float_setpoint_at(0, row.beyond);
        if (!ranged) setpoint.range.reset();
        Points points;
        CHECK(write(make({setpoint}), 0, {special.first, 0}, points) == row.answer);
        CHECK(points.log == Log{std::string(row.fate) + " setpoint " + special.second});
      }
    }
  }
}

TEST_CASE("the ends of a range can be written although neither 0.1 % nor 30 % is exact in binary") {
  const auto counted =
      make({writable(with_range(row_at(0, Point::setpoint, Type::u16, 0.1 * 0.01), 0, 0.3))});
  Points points;
  CHECK(write(counted, 0, {300}, points) == "done");
  CHECK(points[Point::setpoint] == 0.3);
  CHECK(write(counted, 0, {301}, points) == "exception 03");
  // 0.3 as binary32 is 3E99999Ah, a little above 0.3 (IEEE 754).
  const auto carried = make({writable(with_range(row_at(0, Point::setpoint, Type::f32), 0, 0.3))});
  CHECK(write(carried, 0, {0x3E99, 0x999A}, points) == "done");
  CHECK(points[Point::setpoint] == 0.3);
  CHECK(write(carried, 0, {0x3E99, 0x99AA}, points) == "exception 03");
}

TEST_CASE("without a range a value is held against what its point takes") {
  const struct {
    Point point;
    Type type;
    double scale;
    Words beyond;
    const char* clamped;
    Words inside;
  } rows[] = {
      {Point::setpoint, Type::u16, 0.001, {1500}, "clamped setpoint 1.5; wrote setpoint 1", {1000}},
      {Point::setpoint, Type::s16, 0.001, {0xFFFF}, "clamped setpoint -0.001; wrote setpoint 0", {0}},
      {Point::comms_timeout,
       Type::u32,
       1.0,
       {0x000F, 0x4241},  // 1000001
       "clamped comms_timeout 1000001; wrote comms_timeout 1e+06",
       {0x000F, 0x4240}},
      // -0.125 as binary32 (IEEE 754): the width of the range is no excuse for what is below it.
      {Point::comms_timeout,
       Type::f32,
       1.0,
       {0xBE00, 0x0000},
       "clamped comms_timeout -0.125; wrote comms_timeout 0",
       {0x0000, 0x0000}},
      {Point::reset, Type::u16, 1.0, {2}, "clamped reset 2; wrote reset 1", {1}},
      // There is no nearest word.
      {Point::comms_policy, Type::u16, 1.0, {3}, "refused comms_policy 3", {2}},
      {Point::setpoint_source, Type::u16, 1.0, {2}, "refused setpoint_source 2", {1}},
  };
  for (const auto& row : rows) {
    CAPTURE(row.clamped);
    const auto answer_to = [&](const Words& words, OutOfRange beyond, Points& points) {
      Row made = writable(row_at(0, row.point, row.type, row.scale));
      made.out_of_range = beyond;
      return write(make({made}), 0, words, points);
    };
    Points clamping;
    const bool has_nearest = std::string_view(row.clamped).starts_with("clamped");
    CHECK(answer_to(row.beyond, OutOfRange::clamp, clamping) == (has_nearest ? "done" : "exception 03"));
    std::string log;
    for (const auto& line : clamping.log) log += (log.empty() ? "" : "; ") + line;
    CHECK(log == row.clamped);
    const struct {
      OutOfRange beyond;
      const char* answer;
    } others[] = {{OutOfRange::exception_03, "exception 03"},
                  {OutOfRange::exception_04, "exception 04"},
                  {OutOfRange::ignore, "done"}};
    for (const auto& other : others) {
      CAPTURE(other.answer);
      Points points;
      points[row.point] = 0.25;
      CHECK(answer_to(row.beyond, other.beyond, points) == other.answer);
      CHECK(points[row.point] == 0.25);
      CHECK(answer_to(row.inside, other.beyond, points) == "done");
      CHECK(points[row.point] != 0.25);
    }
  }
}

TEST_CASE("a heartbeat without a range takes any number its register can carry") {
  Points points;
  const auto table = make({writable(row_at(0, Point::heartbeat, Type::u16))});
  CHECK(write(table, 0, {65535}, points) == "done");
  CHECK(points[Point::heartbeat] == 65535);
  CHECK_FALSE(table->rows()[0].range.has_value());
}

TEST_CASE("the range a row is left without is what both its point takes and its register carries") {
  const auto table = make({writable(row_at(0, Point::comms_timeout, Type::u16, 0.1)),
                           writable(row_at(1, Point::setpoint, Type::u16, 0.001)),
                           row_at(2, Point::comms_timeout, Type::u16)});
  const auto& rows = table->rows();
  REQUIRE(rows[0].range.has_value());
  CHECK(rows[0].range->first == 0.0);
  CHECK(rows[0].range->second == doctest::Approx(6553.5));
  REQUIRE(rows[1].range.has_value());
  CHECK(*rows[1].range == std::pair{0.0, 1.0});
  CHECK_FALSE(rows[2].range.has_value());  // nobody can write it
}

TEST_CASE("what the unit refuses is refused with the unit's number, before anything is written") {
  const auto table = make({writable(row_at(0, Point::heartbeat, Type::u16)), setpoint_at(1),
                           writable(row_at(2, Point::comms_timeout, Type::u16))});
  for (const auto& [refusal, answer] : {std::pair{modbus::Refusal::illegal_data_value, "exception 03"},
                                        std::pair{modbus::Refusal::server_device_failure, "exception 04"}}) {
    Points points;
    points.refuses[Point::setpoint] = refusal;
    CHECK(write(table, 0, {7, 500, 3}, points) == answer);
    CHECK(points.log == Log{"refused heartbeat 7", "refused setpoint 0.5", "refused comms_timeout 3"});
    CHECK(points[Point::heartbeat] == 0);
  }
}

TEST_CASE("one value out of range in a block leaves all others unwritten") {
  const auto table =
      make({writable(row_at(0, Point::heartbeat, Type::u16)), setpoint_at(1, OutOfRange::exception_04),
            setpoint_at(2, OutOfRange::exception_03), setpoint_at(3, OutOfRange::clamp)});
  Points points;
  CHECK(write(table, 0, {1, 500, 2000, 2000}, points) == "exception 03");
  CHECK(write(table, 0, {1, 2000, 2000, 2000}, points) == "exception 04");  // the first one counts
  CHECK(points[Point::heartbeat] == 0);
  CHECK(points[Point::setpoint] == 0);
  for (const auto& entry : points.log) CHECK(entry.starts_with("refused"));
  CHECK(points.log.size() == 8);
}

TEST_CASE("an ignored value does not keep the rest of its block from being written") {
  const auto table =
      make({setpoint_at(0, OutOfRange::ignore), writable(row_at(1, Point::heartbeat, Type::u16))});
  Points points;
  CHECK(write(table, 0, {5000, 9}, points) == "done");
  CHECK(points.log == Log{"ignored setpoint 5", "accepted heartbeat 9", "wrote heartbeat 9"});
}

TEST_CASE("half of a 32-bit value cannot be written") {
  const auto table = make({writable(row_at(0, Point::heartbeat, Type::u16)), float_setpoint_at(1),
                           writable(row_at(3, Point::comms_timeout, Type::u32, 0.001))});
  Points points;
  CHECK(write(table, 1, {0x4248}, points) == "exception 02");
  CHECK(write(table, 2, {0x0000}, points) == "exception 02");
  CHECK(write(table, 0, {1, 0x4248}, points) == "exception 02");
  CHECK(write(table, 2, {0, 0, 1}, points) == "exception 02");
  CHECK(write(table, 1, {0x4248, 0, 1}, points) == "exception 02");
  CHECK(points.log.empty());
  CHECK(write(table, 0, {1, 0x4248, 0x0000, 0x0001, 0x0000}, points) == "done");  // 42480000h is 50, IEEE 754
  CHECK(points[Point::heartbeat] == 1);
  CHECK(points[Point::setpoint] == 0.5);
  CHECK(points[Point::comms_timeout] == 65.536);
}

TEST_CASE("a 32-bit value is taken in any of the four orders") {
  const struct {
    WordOrder words;
    ByteOrder bytes;
    Words registers;
  } rows[] = {
      {WordOrder::high_first, ByteOrder::high_first, {0x47F1, 0x2000}},
      {WordOrder::low_first, ByteOrder::high_first, {0x2000, 0x47F1}},
      {WordOrder::high_first, ByteOrder::low_first, {0xF147, 0x0020}},
      {WordOrder::low_first, ByteOrder::low_first, {0x0020, 0xF147}},
  };
  for (const auto& row : rows) {
    Row timeout = writable(row_at(8, Point::comms_timeout, Type::f32));
    timeout.layout.word_order = row.words;
    timeout.layout.byte_order = row.bytes;
    Points points;
    CHECK(write(make({timeout}), 8, row.registers, points) == "done");
    CHECK(points[Point::comms_timeout] == 123456);  // 47F12000h, IEEE 754
  }
}

TEST_CASE("carried numbers are turned into ours, and unknown ones are out of range") {
  Row policy = writable(row_at(0, Point::comms_policy, Type::u16));
  policy.values = {{static_cast<int>(Policy::latch_to_inhibit), 20},
                   {static_cast<int>(Policy::go_to_preset), 1}};
  for (const auto beyond :
       {OutOfRange::exception_03, OutOfRange::exception_04, OutOfRange::clamp, OutOfRange::ignore}) {
    CAPTURE(static_cast<int>(beyond));
    policy.out_of_range = beyond;
    const auto table = make({policy});
    Points points;
    CHECK(write(table, 0, {20}, points) == "done");
    CHECK(points[Point::comms_policy] == static_cast<double>(Policy::latch_to_inhibit));
    CHECK(write(table, 0, {1}, points) == "done");
    CHECK(points[Point::comms_policy] == static_cast<double>(Policy::go_to_preset));
    points.log.clear();
    const auto* const expected = beyond == OutOfRange::exception_04 ? "exception 04"
                                 : beyond == OutOfRange::ignore     ? "done"
                                                                    : "exception 03";
    CHECK(write(table, 0, {2}, points) == expected);  // 2 is ours, but carried as 1 here
    CHECK(points.log ==
          Log{beyond == OutOfRange::ignore ? "ignored comms_policy 2" : "refused comms_policy 2"});
  }
}

TEST_CASE("a word's number is checked even where the table renumbers nothing") {
  const auto table = make({writable(row_at(0, Point::setpoint_source, Type::u16))});
  Points points;
  CHECK(write(table, 0, {1}, points) == "done");
  CHECK(write(table, 0, {2}, points) == "exception 03");
  CHECK(points[Point::setpoint_source] == 1);
}

TEST_CASE("writing a register of bits writes every row in it") {
  const auto table =
      make({writable(bit_at(6, 0, Point::setpoint_source)), writable(bit_at(6, 7, Point::reset))});
  Points points;
  CHECK(write(table, 6, {0x0080}, points) == "done");
  CHECK(points[Point::setpoint_source] == 0);
  CHECK(points[Point::reset] == 1);
  CHECK(write(table, 6, {0xFF7F}, points) == "done");  // bits nobody uses do not matter
  CHECK(points[Point::setpoint_source] == 1);
  CHECK(points[Point::reset] == 0);
  CHECK(points.log.size() == 8);
}

TEST_CASE("one read-only bit makes its register read-only") {
  const auto table = make({writable(bit_at(6, 0, Point::setpoint_source)), bit_at(6, 1, Point::trips)});
  Points points;
  CHECK(write(table, 6, {0x0001}, points) == "exception 02");
  CHECK(points.log.empty());
}

TEST_CASE("coils are written by their own table, all or nothing") {
  std::vector<Row> rows = {writable(row_at(3, Point::reset, Type::bit)),
                           writable(row_at(4, Point::setpoint_source, Type::bit)),
                           row_at(5, Point::trips, Type::bit), setpoint_at(3)};
  for (std::size_t i = 0; i < 3; ++i) rows[i].table = modbus::Table::coils;
  const auto table = make(rows);
  Points points;
  CHECK(text_of(table->write_bits(3, {true, true}, points)) == "done");
  CHECK(points[Point::reset] == 1);
  CHECK(points[Point::setpoint_source] == 1);
  CHECK(text_of(table->write_bits(3, {false}, points)) == "done");
  CHECK(points[Point::reset] == 0);
  points.log.clear();
  CHECK(text_of(table->write_bits(4, {false, true}, points)) == "exception 02");
  CHECK(text_of(table->write_bits(2, {false, false}, points)) == "exception 02");
  CHECK(points.log.empty());
  points.refuses[Point::setpoint_source] = modbus::Refusal::server_device_failure;
  CHECK(text_of(table->write_bits(3, {true, false}, points)) == "exception 04");
  CHECK(points[Point::reset] == 0);
}

TEST_CASE("a write-only register can be written") {
  Row row = row_at(1, Point::heartbeat, Type::u16);
  row.access = Access::write_only;
  Points points;
  CHECK(write(make({row}), 1, {42}, points) == "done");
  CHECK(points[Point::heartbeat] == 42);
}

TEST_CASE("what is written is read back, at random places, types and orders") {
  Random random(21);
  const Type types[] = {Type::u16, Type::s16, Type::u32, Type::s32};
  for (int i = 0; i < 2000; ++i) {
    const auto address = static_cast<std::uint16_t>(random.below(65535));
    Row row = writable(row_at(address, Point::heartbeat, types[random.below(4)],
                              std::pow(10.0, static_cast<double>(random.below(5)) - 3.0)));
    row.layout.word_order = random.below(2) == 0 ? WordOrder::high_first : WordOrder::low_first;
    row.layout.byte_order = random.below(2) == 0 ? ByteOrder::high_first : ByteOrder::low_first;
    const auto table = make({row});
    Words words(static_cast<std::size_t>(register_count(row.layout)));
    for (auto& word : words) word = static_cast<std::uint16_t>(random.below(0x10000));
    Points points;
    REQUIRE(write(table, address, words, points) == "done");
    const auto back = table->read_registers(modbus::Table::holding_registers,
                                            {address, static_cast<std::uint16_t>(words.size())}, points);
    REQUIRE(back.has_value());
    CHECK(*back == words);
  }
}

}  // namespace
}  // namespace emberline::registers
