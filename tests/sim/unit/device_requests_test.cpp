#include <doctest/doctest.h>

#include "sim/modbus/diagnostics.hpp"
#include "sim/modbus/pdu.hpp"
#include "tests/sim/modbus/hex.hpp"
#include "tests/sim/unit/rig.hpp"

// Requests about the device itself, and the writes 16 and 17, as the watchdog and the intake limits see them.

namespace emberline::unit {
namespace {

using test::hex;
using test::to_hex;

/// Sends to the unit through its serial port.
std::string send(Rig& rig, modbus::Diagnostics& port, std::string_view pdu, Duration when,
                 bool broadcast = false) {
  const auto reply = rig.unit.take_up(hex(pdu), {at(when), "field", "plc", broadcast, &port});
  return reply ? to_hex(*reply) : "";
}

Duration age(const Rig& rig, Duration now) { return from_seconds(rig.value(Point::comms_age, now)); }

TEST_CASE("what feeds the watchdog is decided alike for old and new functions") {
  struct Row {
    const char* why;
    const char* pdu;
    bool any_request, good_request, write, heartbeat;
  };
  const Row rows[] = {
      {"loop-back", "08 00 00 A5 37", true, true, false, false},
      {"a counter", "08 00 0B 00 00", true, true, false, false},
      {"going into listen-only is processed, though not answered", "08 00 04 00 00", true, true, false,
       false},
      {"a refused 08", "08 00 05 00 00", true, false, false, false},
      {"event counter", "0B", true, true, false, false},
      {"identification", "2B 0E 01 00", true, true, false, false},
      {"one that is not there", "2B 0E 04 70", true, false, false, false},
      {"mask write of the setpoint", "16 00 00 00 00 01 F4", true, true, true, false},
      {"mask write of the heartbeat", "16 00 04 FF FE 00 01", true, true, true, true},
      {"mask write of an address that is not there", "16 00 32 00 00 00 01", true, false, false, false},
      {"mask write of what is read-only", "16 00 06 00 00 00 01", true, false, false, false},
      {"17 that writes the heartbeat", "17 00 06 00 01 00 04 00 01 02 00 01", true, true, true, true},
      {"17 whose value is refused", "17 00 06 00 01 00 00 00 01 02 03 E9", true, false, false, false},
      {"17 that reads what is not there", "17 00 32 00 01 00 04 00 01 02 00 01", true, false, false, false},
  };
  for (const auto& row : rows) {
    for (const auto feeds : {Feeds::any_request, Feeds::good_request, Feeds::write, Feeds::heartbeat}) {
      CAPTURE(row.why);
      CAPTURE(static_cast<int>(feeds));
      auto spec = base_spec();
      spec.comms_loss.feeds = feeds;
      spec.comms_loss.timeout = 60s;
      Rig rig(spec);
      modbus::Diagnostics port;
      (void)send(rig, port, row.pdu, 10s);
      const bool fed = age(rig, 11s) == 1s;
      const bool expected = (feeds == Feeds::any_request && row.any_request) ||
                            (feeds == Feeds::good_request && row.good_request) ||
                            (feeds == Feeds::write && row.write) ||
                            (feeds == Feeds::heartbeat && row.heartbeat);
      CHECK(fed == expected);
    }
  }
}

TEST_CASE("what listen-only mode swallows feeds nothing, what ends it does") {
  auto spec = base_spec();
  spec.comms_loss.timeout = 60s;
  Rig rig(spec);
  modbus::Diagnostics port;
  CHECK(send(rig, port, "08 00 04 00 00", 10s).empty());
  CHECK(send(rig, port, "03 00 00 00 01", 12s).empty());
  CHECK(send(rig, port, "06 00 00 00 01", 13s, true).empty());
  CHECK(age(rig, 14s) == 4s);
  CHECK(rig.writes.seen.empty());
  CHECK(send(rig, port, "08 00 01 00 00", 15s).empty());
  CHECK(age(rig, 16s) == 1s);
}

TEST_CASE("17 and a mask write reach a point like any other write, in the eyes of whoever watches") {
  Rig rig(base_spec());
  modbus::Diagnostics port;
  CHECK(send(rig, port, "06 00 00 01 F4", 1s) == "06 00 00 01 F4");  // 50 %
  CHECK(send(rig, port, "16 00 00 FF 0F 00 00", 2s) == "16 00 00 FF 0F 00 00");
  CHECK(rig.value(Point::setpoint, 2s) == doctest::Approx(0.260));  // 01F4 AND FF0F = 0104
  CHECK(send(rig, port, "17 00 00 00 01 00 00 00 01 02 02 BC", 2s) == "17 02 02 BC");
  CHECK(rig.value(Point::setpoint, 2s) == doctest::Approx(0.7));
  REQUIRE(rig.writes.seen.size() == 3);
  CHECK(rig.writes.seen[1].asked == doctest::Approx(0.260));
  CHECK(rig.writes.seen[2].asked == doctest::Approx(0.7));
  CHECK(rig.writes.seen[2].accepted);
  CHECK(send(rig, port, "17 00 00 00 01 00 00 00 01 02 03 E9", 2s) == "97 03");  // 100.1 %
  CHECK(rig.value(Point::setpoint, 2s) == doctest::Approx(0.7));
}

TEST_CASE("17 counts as a read of its size for the intake limits; what is about the device does not count") {
  auto spec = base_spec();
  spec.intake = {.largest_block = 4, .reads_per_second = 3, .beyond = Beyond::exception};
  Rig rig(spec);
  modbus::Diagnostics port;
  CHECK(send(rig, port, "17 00 00 00 05 00 04 00 01 02 00 01", 1s) == "97 03");  // a block too long
  CHECK(rig.value(Point::heartbeat, 1s) == 0.0);
  for (int i = 0; i < 20; ++i) {
    CHECK(send(rig, port, "08 00 00 A5 37", 1s) == "08 00 00 A5 37");
    CHECK(send(rig, port, "16 00 04 FF FF 00 00", 1s) == "16 00 04 FF FF 00 00");
  }
  for (int i = 0; i < 3; ++i)
    CHECK(send(rig, port, "17 00 04 00 01 00 04 00 01 02 00 01", 1s) == "17 02 00 01");
  CHECK(send(rig, port, "17 00 04 00 01 00 04 00 01 02 00 02", 1s) == "97 06");
  CHECK(rig.value(Point::heartbeat, 1s) == 1.0);
  CHECK(port.counters().busy == 1);
}

TEST_CASE("a unit that starts up is silent to everything, its port counts nothing it was asked") {
  auto spec = base_spec();
  spec.start_up = 2s;
  Rig rig(spec);
  modbus::Diagnostics port;
  rig.unit.set_powered(false, at(1s));
  rig.unit.set_powered(true, at(2s));
  for (const auto* pdu : {"08 00 00 A5 37", "0B", "0C", "11", "07", "2B 0E 01 00", "16 00 00 00 00 00 01"})
    CHECK(send(rig, port, pdu, 3s).empty());
  CHECK(port.counters().server_messages == 0);
  CHECK(port.log().empty());
  CHECK(send(rig, port, "08 00 00 A5 37", 5s) == "08 00 00 A5 37");
}

}  // namespace
}  // namespace emberline::unit
