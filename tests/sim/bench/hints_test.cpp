// What goes wrong when a program first meets a register table, and whether the journal says so. Common
// practice, no source.
#include "sim/bench/hints.hpp"

#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/materials/material.hpp"
#include "sim/bench/line_session.hpp"
#include "sim/modbus/crc.hpp"

using namespace emberline;
using bench::LineSession;
using modbus::Bytes;
using namespace std::chrono_literals;

namespace {

SimTime at(Duration since_start) { return SimTime{since_start}; }

bench::BenchSpec spec_with(registers::Layout power) {
  using registers::Point;
  registers::TableParts parts;
  const auto add = [&parts](std::uint16_t address, Point point, registers::Layout layout, bool writable) {
    registers::Row row;
    row.address = address;
    row.point = point;
    row.layout = layout;
    row.access = writable ? registers::Access::read_write : registers::Access::read_only;
    parts.rows.push_back(row);
  };
  add(0x30, Point::setpoint, {registers::Type::u16, 0.001, {}, {}}, true);
  add(0x32, Point::comms_timeout, power, true);
  add(0x40, Point::load_current, {registers::Type::u16, 0.1, {}, {}}, false);
  add(0x41, Point::state, {registers::Type::u16, 1.0, {}, {}}, false);
  add(0x60, Point::energy, {.type = registers::Type::u64}, false);
  add(0x64, Point::setpoint, {.type = registers::Type::text, .text_registers = 4}, false);
  parts.rows.back().text = registers::TextPoint::product_code;
  add(0x68, Point::setpoint, {.type = registers::Type::u32}, false);
  parts.rows.back().fixed = 7;
  auto table = registers::make_register_table(parts);
  REQUIRE(table);

  bench::BenchSpec spec;
  spec.lines.resize(1);
  spec.lines[0].name = "field";
  bench::UnitEntry entry;
  entry.unit.name = "north";
  entry.unit.lines = {"field"};
  entry.unit.comms_loss.lines = entry.unit.lines;
  entry.unit.table = *table;
  entry.unit.rated_voltage_V = 400.0;
  entry.unit.rated_current_A = 63.0;
  entry.load.connection = plant::Connection::star_4_wire;
  entry.load.material = plant::find_material("constant");
  entry.load.cold_resistance_ohm = {10.0, 10.0, 10.0};
  spec.units = {entry};
  return spec;
}

const registers::Layout kFloat{registers::Type::f32, 1.0, {}, {}};

/// The hints that a bench gives to whoever sends these PDUs, one a second, to this id.
std::vector<std::string> hints(const std::vector<Bytes>& pdus, std::uint8_t id = 1,
                               registers::Layout power = kFloat) {
  bench::Bench bench(spec_with(power));
  LineSession session(bench, 0, "plc", {});
  SimTime now = at(1s);
  for (const auto& pdu : pdus) {
    session.receive(modbus::rtu_frame(id, pdu), now);
    (void)session.poll(now);
    now += 1s;
  }
  std::vector<std::string> found;
  for (const auto& entry : bench.journal().entries())
    if (entry.sentence.starts_with("hint: "))
      found.push_back(entry.subject + ": " + entry.sentence.substr(6));
  return found;
}

Bytes read(std::uint8_t function, int first, int count) {
  return {function, static_cast<std::uint8_t>(first >> 8), static_cast<std::uint8_t>(first), 0,
          static_cast<std::uint8_t>(count)};
}

Bytes write(int address, int value) {
  return {6, static_cast<std::uint8_t>(address >> 8), static_cast<std::uint8_t>(address),
          static_cast<std::uint8_t>(value >> 8), static_cast<std::uint8_t>(value)};
}

/// 10 (hex): two registers at 0x32.
Bytes write_pair(std::uint16_t first, std::uint16_t second) {
  return {16,
          0,
          0x32,
          0,
          2,
          4,
          static_cast<std::uint8_t>(first >> 8u),
          static_cast<std::uint8_t>(first),
          static_cast<std::uint8_t>(second >> 8u),
          static_cast<std::uint8_t>(second)};
}

void expect_one(const std::vector<std::string>& found, const std::vector<std::string>& parts) {
  REQUIRE(found.size() == 1);
  for (const auto& part : parts) CHECK_MESSAGE(found[0].find(part) != std::string::npos, found[0]);
}

}  // namespace

TEST_CASE("addresses that are one too high or too low get no hint, or more than one") {
  const auto high = read(3, 0x41, 2);
  expect_one(hints({high, high, high}),
             {"north: plc asks for 0x0041 (40066)", "one lower, at 0x0040 (40065)"});
  expect_one(hints({read(3, 0x3F, 2)}), {"0x003F (40064)", "one higher, at 0x0040 (40065)"});
  expect_one(hints({write(0x31, 100)}), {"0x0031 (40050)", "one lower, at 0x0030 (40049)"});
}

TEST_CASE("a reference number sent as the address is not recognised") {
  expect_one(hints({read(3, 40065, 2)}), {"address 40065", "0x0040 (40065)"});
}

TEST_CASE("the wrong one of the two register tables is not recognised") {
  expect_one(hints({read(4, 0x40, 2)}),
             {"asks for input registers from 0x0040 (30065)", "holding registers are there"});
}

TEST_CASE("half of a 32-bit value is read without a word") {
  expect_one(hints({read(3, 0x32, 1), read(3, 0x33, 1)}),
             {"one register of comms_timeout", "from 0x0032 (40051) on"});
  CHECK(hints({read(3, 0x32, 2)}).empty());
  // What is asked over and over is not looked at again; what differs from it in one byte is.
  expect_one(hints({read(3, 0x32, 2), read(3, 0x32, 2), read(3, 0x32, 1)}),
             {"one register of comms_timeout"});
}

TEST_CASE("part of a 64-bit value is read without a word, and part of a text is taken for a mistake") {
  expect_one(hints({read(3, 0x61, 2)}),
             {"reads a part of energy, which takes four", "from 0x0060 (40097) on"});
  CHECK(hints({read(3, 0x60, 4)}).empty());
  CHECK(hints({read(3, 0x65, 2)}).empty());
  CHECK(hints({read(3, 0x68, 1)}).empty());
}

TEST_CASE("a setpoint ten or a hundred times too large is not explained") {
  expect_one(hints({write(0x30, 5000)}), {"plc wrote setpoint = 500 %", "a tenth of it, 50 %", "is 0.1 %"});
  expect_one(hints({write(0x30, 50000)}), {"plc wrote setpoint = 5000 %", "a hundredth of it, 50 %"});
  CHECK(hints({write(0x30, 500)}).empty());
}

TEST_CASE("setpoints ten times too small are not noticed, or every small one is") {
  std::vector<Bytes> whole_percent;
  for (const int percent : {20, 35, 50, 65, 80}) whole_percent.push_back(write(0x30, percent));
  expect_one(hints(whole_percent),
             {"the first 5 setpoints that plc wrote lie between 2 % and 8 %", "1000 is 100 %"});
  whole_percent[3] = write(0x30, 650);
  CHECK(hints(whole_percent).empty());
  CHECK(hints({write(0x30, 20), write(0x30, 20), write(0x30, 20), write(0x30, 20), write(0x30, 20)}).empty());
}

TEST_CASE("the order of words or bytes is not suspected when the value is absurd") {
  // 3.0 as IEEE 754 single is 4040 0000 (hex).
  CHECK(hints({write_pair(0x4040, 0x0000)}).empty());
  // 100.5 s: 42C9 0000; words the other way round 0000 42C9 is a number near 0 and in range: no guess can be
  // made from that. As a whole number of 0.1 s it shows.
  const registers::Layout tenths{registers::Type::u32, 0.1, {}, {}};
  expect_one(hints({write_pair(0x07D1, 0x0000)}, 1, tenths),
             {"comms_timeout", "the two registers the other way round", "word order?"});
  // 1.003 in counts of 0.1 %: 03EB; the bytes the other way round are out of range and no round number.
  expect_one(hints({write(0x30, 0xE703)}), {"setpoint = 5914 %", "two bytes", "99.9 %", "byte order?"});
}

TEST_CASE("a master that polls an id nobody has is not told, or a scan of all ids is called a mistake") {
  const auto request = read(3, 0x40, 1);
  CHECK(hints({request, request}, 7).empty());
  expect_one(hints({request, request, request, request}, 7),
             {"field: plc keeps asking unit id 7", "here are 1 (north)"});
}

TEST_CASE("a program that does everything right gets hints") {
  CHECK(hints({read(3, 0x40, 2), read(3, 0x30, 1), write(0x30, 425), read(3, 0x32, 2), write_pair(0x4040, 0)})
            .empty());
}
