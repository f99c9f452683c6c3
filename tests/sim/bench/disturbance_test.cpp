#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/support/heated_bench.hpp"
#include "tests/support/running_bench.hpp"

using namespace emberline;
using namespace std::chrono_literals;
using registers::Access;
using registers::Point;

namespace {

/// The heated bench, its unit with registers for all kinds of settings, and a second one that follows the
/// setpoint register of the first. Comms are lost 3 s after the last request, and wait for the reset
/// register.
bench::BenchSpec bench_of_settings() {
  auto spec = testing::heated_bench();
  registers::TableParts parts;
  parts.title = "Settings";
  std::uint16_t address = 0;
  for (const auto& [point, scale] : {std::pair{Point::setpoint, 0.001},
                                     {Point::setpoint_source, 1.0},
                                     {Point::reset, 1.0},
                                     {Point::heartbeat, 1.0},
                                     {Point::learn_load, 1.0},
                                     {Point::current_limit, 0.1},
                                     {Point::over_current_threshold, 0.01},
                                     {Point::over_current_delay, 0.001},
                                     {Point::comms_timeout, 0.001}})
    parts.rows.push_back(testing::row(address++, point, scale, Access::read_write));
  auto& heater = spec.units[0].unit;
  heater.table = std::move(registers::make_register_table(std::move(parts))).value();
  heater.comms_loss.reset_by = {unit::ResetBy::reset_register};
  heater.comms_loss.setpoint_after_reset = unit::SetpointAfterReset::zero;
  auto follower = spec.units[0];
  follower.unit.name = "follower";
  follower.unit.id = 2;
  follower.unit.local_setpoint_signal = "heater.setpoint";
  follower.unit.comms_loss.timeout = 0s;
  follower.heats.reset();
  spec.units.push_back(follower);
  return spec;
}

struct Plc : testing::RunningBench {
  Plc() : RunningBench(bench_of_settings()) {}
  /// Has to be taken up, by the unit of this id.
  void write(int register_number, int value, int id = 1) {
    const modbus::Bytes pdu{0x06, 0, static_cast<std::uint8_t>(register_number),
                            static_cast<std::uint8_t>(value >> 8), static_cast<std::uint8_t>(value)};
    loop.touched();
    CHECK(bench.request(0, static_cast<std::uint8_t>(id), pdu, loop.now(), "plc").pdu == pdu);
  }
  void read() {
    loop.touched();
    const modbus::Bytes pdu{0x03, 0, 0, 0, 1};
    CHECK(bench.request(0, 1, pdu, loop.now(), "plc").pdu);
  }
};

enum Register { setpoint, source, reset, heartbeat, learn, limit, threshold, delay, timeout };

}  // namespace

TEST_CASE(
    "a new value of a setting is seen later than in the next mains cycle, or the old one moves the grid") {
  struct Write {
    std::string what;
    int address, value;
    bool moves;
  };
  const std::vector<Write> writes{
      {"the setpoint as it is", setpoint, 500, false},
      {"a new setpoint", setpoint, 501, true},
      {"the source as it is", source, 0, false},
      {"the other source", source, 1, true},
      {"no reset", reset, 0, false},
      {"a reset of nothing", reset, 1, false},
      {"a heartbeat that beats", heartbeat, 7, false},
      {"no learning", learn, 0, false},
      {"learning", learn, 1, true},
      {"the limit as it is", limit, 0, false},
      {"a new limit", limit, 200, true},
      {"a new threshold", threshold, 190, true},
      {"a new delay", delay, 1234, true},
      {"the timeout as it is", timeout, 3000, false},
  };
  for (const auto& write : writes) {
    CAPTURE(write.what);
    Plc plc;
    plc.write(setpoint, 500);
    for (int second = 1; second <= 60; ++second) {
      plc.to(second * 1s);
      plc.read();
    }
    plc.to(60s + 3ms);
    const SimTime soon{60s + 20ms}, later{60s + 100ms};
    REQUIRE((plc.bench.grid().next() == later));
    plc.write(write.address, write.value);
    CHECK((plc.bench.grid().next() == (write.moves ? soon : later)));
    plc.to(60s + 4ms);
    plc.write(write.address, write.value);
    CHECK((plc.bench.grid().next() == (write.moves ? soon : later)));
  }
}

TEST_CASE("a reset that zeroes the setpoint of a tripped unit reaches who follows it late") {
  Plc plc;
  plc.write(source, 1, 2);
  plc.write(setpoint, 500);
  plc.to(1s);
  auto leg = plc.bench.leg_state(0, 0);
  leg.fuse_open = true;
  plc.bench.change_leg(0, 0, leg, plc.loop.now(), "heater", "a fuse opens");
  plc.loop.touched();
  plc.to(10s);  // tripped by the fuse, and comms are lost
  plc.read();   // back again
  plc.to(10s + 3ms);
  CHECK(plc.value("heater.state") == static_cast<double>(registers::State::tripped));
  const double before = plc.value("follower.output");
  CHECK(before > 0.0);
  plc.write(reset, 1);
  CHECK(plc.value("heater.setpoint") == 0.0);
  CHECK(plc.value("heater.state") == static_cast<double>(registers::State::tripped));
  plc.to(10s + 40ms);  // it begins to ramp down with the next cycle
  CHECK(plc.value("follower.output") < before);
}
