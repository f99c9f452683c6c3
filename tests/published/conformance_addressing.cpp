// Who answers to which unit id, as whole frames: MODBUS over Serial Line V1.02 (2006), 2.2, and MODBUS
// Messaging on TCP/IP V1.0b (2006), 4.4.1.
#include <memory>
#include <string>

#include <doctest/doctest.h>

#include "sim/modbus/mbap_framer.hpp"
#include "sim/modbus/rtu_framer.hpp"
#include "tests/published/conformance_bench.hpp"

namespace emberline::test {
namespace {

/// A bench whose only slave has this id.
bench::BenchSpec alone(int id) {
  auto spec = conformance_spec();
  spec.io_blocks.clear();
  spec.units[0].unit.id = id;
  return spec;
}

/// What comes back for one frame on a line of its own; "" is silence.
std::string exchange(bench::Bench& bench, std::size_t line, const modbus::Bytes& frame) {
  bench::LineSession session(bench, line, "plc", {});
  const auto now = SimTime{} + std::chrono::seconds{1};
  session.receive(frame, now);
  std::string all;
  for (const auto& answer : session.poll(now)) all += to_hex(answer.bytes);
  return all;
}

TEST_CASE("a slave of any id from 1 to 247 answers to its own on a serial line, and to no other") {
  // Serial Line V1.02, 2.2: 1 to 247 individual, 0 broadcast, 248 to 255 reserved.
  const auto read = hex("03 00 05 00 01");
  for (int id = 1; id <= 247; ++id) {
    CAPTURE(id);
    bench::Bench bench(alone(id));
    const auto own = static_cast<std::uint8_t>(id);
    CHECK(exchange(bench, kField, modbus::rtu_frame(own, read)) ==
          to_hex(modbus::rtu_frame(own, hex("03 02 00 00"))));
    const bool ends = id == 1 || id == 17 || id == 247;
    for (int other = 0; ends && other <= 255; ++other) {
      if (other == id) continue;
      CAPTURE(other);
      CHECK(exchange(bench, kField, modbus::rtu_frame(static_cast<std::uint8_t>(other), read)).empty());
    }
  }
}

TEST_CASE("the only slave of a TCP line answers to its id, to 255 and to 0, with the id it was asked by") {
  // Messaging on TCP/IP V1.0b, 4.4.1: FF is recommended for a server that is addressed directly, 0 is
  // accepted.
  for (const int id : {1, 17, 247}) {
    bench::Bench bench(alone(id));
    for (int asked = 0; asked <= 255; ++asked) {
      CAPTURE(id);
      CAPTURE(asked);
      const auto unit = static_cast<std::uint8_t>(asked);
      const bool answers = asked == 0 || asked == 255 || asked == id;
      CHECK(exchange(bench, kEthernet, modbus::mbap_frame(0x1501, unit, hex("03 00 05 00 01"))) ==
            (answers ? to_hex(modbus::mbap_frame(0x1501, unit, hex("03 02 00 00"))) : ""));
    }
  }
}

TEST_CASE("whole frames of the functions that serial devices have, with their CRC") {
  // Application Protocol V1.1b3, section 6; the CRCs were computed by a program of another language.
  const struct {
    const char* source;
    const char* request;
    const char* answer;
  } rows[] = {
      {"6.8, 00", "01 08 00 00 A5 37 DA 8D", "01 08 00 00 A5 37 DA 8D"},
      {"6.16", "01 16 00 04 00 F2 00 25 67 EE", "01 16 00 04 00 F2 00 25 67 EE"},
      {"6.6, broadcast", "00 06 00 01 00 03 99 DA", ""},
      {"section 7", "01 01 04 A1 00 01 AD 18", "01 81 02 C1 91"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.source);
    bench::Bench bench(conformance_spec());
    CHECK(exchange(bench, kField, hex(row.request)) == row.answer);
  }
}

TEST_CASE("a session tells the ports of its line about good frames, bad ones and those that are too long") {
  bench::Bench bench(conformance_spec());
  const auto count = [&](const char* sub_function) {
    const auto answer = exchange(bench, kField, modbus::rtu_frame(kUnit, hex(sub_function)));
    return hex(answer).at(5);
  };
  const auto break_in = [&](modbus::Bytes frame) {
    bench::LineSession session(bench, kField, "plc", {});
    session.receive(frame, SimTime{} + std::chrono::seconds{1});
    CHECK(session.poll(SimTime{} + std::chrono::seconds{2}).empty());
  };
  auto bad = modbus::rtu_frame(kUnit, hex("03 00 00 00 01"));
  bad.back() ^= 1u;
  break_in(bad);                                                                // bad CRC
  break_in(hex("01 03"));                                                       // too short
  break_in(modbus::Bytes(300, 0x55));                                           // more than a receiver holds
  (void)exchange(bench, kField, modbus::rtu_frame(99, hex("03 00 00 00 01")));  // for nobody
  CHECK(count("08 00 0B 00 00") == 2);
  CHECK(count("08 00 0C 00 00") == 3);
  CHECK(count("08 00 12 00 00") == 1);
  CHECK(count("08 00 0E 00 00") == 4);
}

}  // namespace
}  // namespace emberline::test
