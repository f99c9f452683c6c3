// What registers show and what writes do.
#include <algorithm>
#include <cmath>
#include <utility>

#include <doctest/doctest.h>

#include "sim/unit/measured_points.hpp"
#include "sim/unit/protection_info.hpp"
#include "sim/unit/settings.hpp"
#include "tests/sim/unit/rig.hpp"

using namespace emberline;
using namespace emberline::unit;
using registers::Warning;

namespace {

Measured three_phases() {
  Measured m;
  m.phases = 3;
  m.load_voltage_V = {230.0, 220.0, 210.0};
  m.load_current_A = {11.0, 10.0, 9.0};
  m.load_power_W = {2530.0, 2200.0, 1890.0};
  m.line_current_A = {12.0, 11.0, 10.0};
  m.neutral_current_A = 1.7;
  m.supply_voltage_V = {231.0, 230.0, 229.0};
  m.supply_frequency_Hz = 50.0;
  m.element_temperature_degC = 640.0;
  m.firing_angle_deg = 75.0;
  m.energy_J = 7.2e6;
  m.heatsink_degC = 52.0;
  m.apparent_power_VA = {3000.0, 2500.0, 2000.0};
  m.line_power_W = {2400.0, 2250.0, 1500.0};
  m.dc_current_A = {0.5, -0.25, 0.125};
  m.demand_W = 5100.0;
  m.peak_demand_W = 6400.0;
  return m;
}

}  // namespace

TEST_CASE("a measured point shows another value than the meter's") {
  const std::pair<Point, double> cases[] = {
      {Point::load_voltage, 220.0},
      {Point::load_voltage_l1, 230.0},
      {Point::load_voltage_l3, 210.0},
      {Point::load_current, 10.0},
      {Point::load_current_l2, 10.0},
      {Point::load_current_l3, 9.0},
      {Point::load_power, 6620.0},
      {Point::load_power_l1, 2530.0},
      {Point::load_power_l3, 1890.0},
      {Point::line_current, 11.0},
      {Point::line_current_l1, 12.0},
      {Point::neutral_current, 1.7},
      {Point::load_resistance, 22.0},
      {Point::supply_voltage, 230.0},
      {Point::supply_voltage_l3, 229.0},
      {Point::supply_frequency, 50.0},
      {Point::element_temperature, 640.0},
      {Point::firing_angle, 75.0},
      {Point::energy, 7.2e6},
      {Point::heatsink_temperature, 52.0},
      {Point::apparent_power, 7500.0},
      {Point::apparent_power_l1, 3000.0},
      {Point::apparent_power_l3, 2000.0},
      {Point::power_factor, 0.82},
      {Point::power_factor_l1, 0.8},
      {Point::power_factor_l2, 0.9},
      {Point::power_factor_l3, 0.75},
      {Point::dc_current_l1, 0.5},
      {Point::dc_current_l2, -0.25},
      {Point::dc_current_l3, 0.125},
      {Point::demand, 5100.0},
      {Point::peak_demand, 6400.0},
      {Point::load_intact, 1.0},
  };
  Rig rig(base_spec());
  rig.unit.measure(at(1s), three_phases());
  for (const auto& [point, expected] : cases) {
    CAPTURE(registers::point_info(point).name);
    CHECK(rig.value(point) == doctest::Approx(expected));
  }
  // Single-phase: index 0 only.
  Measured one = three_phases();
  one.phases = 1;
  CHECK(measured_point(Point::load_voltage, one) == 230.0);
  CHECK(measured_point(Point::load_power, one) == 2530.0);
  one.load_current_A = {};
  CHECK(measured_point(Point::load_resistance, one) == 0.0);
  CHECK(measured_point(Point::apparent_power, one) == 3000.0);
  CHECK(measured_point(Point::power_factor, one) == doctest::Approx(0.8));
  one.apparent_power_VA = {};
  CHECK(measured_point(Point::power_factor, one) == 0.0);
  CHECK(measured_point(Point::power_factor_l1, one) == 0.0);
  CHECK_FALSE(measured_point(Point::setpoint, one));
}

TEST_CASE("supply-absent does not follow the supply, or is a trip") {
  Rig rig(base_spec());
  Measured m;
  m.supply_present = false;
  rig.unit.measure(at(1s), m);
  CHECK(rig.warns(Warning::supply_absent));
  CHECK(rig.value(Point::trips) == 0.0);
  CHECK(rig.state() == State::running);
  m.supply_present = true;
  rig.unit.measure(at(2s), m);
  CHECK_FALSE(rig.warns(Warning::supply_absent));
  CHECK(rig.notes.count("supply-absent") == 2);
}

TEST_CASE("duty in burst is not the output, or with phase angle not 1 while conducting") {
  for (const auto mode : {FiringMode::phase_angle, FiringMode::burst_spread}) {
    UnitSpec spec = base_spec();
    spec.firing.mode = mode;
    Rig rig(spec);
    CHECK(rig.value(Point::duty) == 0.0);
    rig.write(kSetpoint, 300, 1s);
    CHECK(rig.value(Point::duty) == doctest::Approx(mode == FiringMode::burst_spread ? 0.3 : 1.0));
  }
}

TEST_CASE("run_time counts time in which the output is off") {
  UnitSpec spec = base_spec();
  spec.comms_loss.timeout = 0s;
  Rig rig(spec);
  CHECK(rig.value(Point::run_time, 5s) == 0.0);
  rig.write(kSetpoint, 300, 5s);
  CHECK(rig.value(Point::run_time, 7s) == 2.0);
  rig.enable(false, 8s);
  CHECK(rig.value(Point::run_time, 20s) == 3.0);
  rig.unit.set_powered(false, at(21s));
  CHECK(rig.value(Point::run_time, 22s) == 3.0);  // an hour meter survives
}

TEST_CASE("setpoint_source does not choose which setpoint counts") {
  UnitSpec spec = base_spec();
  spec.comms_loss.timeout = 0s;
  spec.local_setpoint = 0.3;
  Rig rig(spec);
  rig.write(kSetpoint, 500, 1s);
  CHECK(rig.value(Point::setpoint_active) == 0.5);
  rig.write(kSource, 1, 2s);
  CHECK(rig.read(2s, "field", kSource) == modbus::Bytes{3, 2, 0, 1});
  CHECK(rig.value(Point::setpoint_active) == 0.3);
  CHECK(rig.value(Point::setpoint_local) == 0.3);
  CHECK(rig.output() == 0.3);
  rig.write(kSetpoint, 600, 3s);  // stored all the same
  CHECK(rig.output() == 0.3);
  rig.unit.set_local_setpoint(1.7, at(4s));
  CHECK(rig.output() == 1.0);
  rig.write(kSource, 0, 5s);
  CHECK(rig.output() == doctest::Approx(0.6));
}

TEST_CASE("a setpoint written while the unit is off is not stored") {
  UnitSpec spec = base_spec();
  spec.comms_loss.timeout = 0s;
  Rig rig(spec);
  rig.enable(false, 1s);
  CHECK(rig.write(kSetpoint, 400, 2s) == Rig::write_pdu(kSetpoint, 400));
  CHECK(rig.output() == 0.0);
  rig.enable(true, 3s);
  CHECK(rig.output() == doctest::Approx(0.4));
}

TEST_CASE("a write is not told with what was asked, by whom and whether it was accepted") {
  Rig rig(base_spec());
  rig.send(Rig::write_pdu(kSetpoint, 500), 1s, "field", "plc");
  rig.send(Rig::write_pdu(kSetpoint, 5000), 2s, "ethernet", "panel");
  rig.send(Rig::read_pdu(kSetpoint), 3s);
  REQUIRE(rig.writes.seen.size() == 2);
  const auto& good = rig.writes.seen[0];
  CHECK(good.at == at(1s));
  CHECK(good.point == Point::setpoint);
  CHECK(good.asked == doctest::Approx(0.5));
  CHECK(good.accepted);
  CHECK(good.master == "plc");
  CHECK(good.line == "field");
  const auto& bad = rig.writes.seen[1];
  CHECK(bad.asked == doctest::Approx(5.0));
  CHECK_FALSE(bad.accepted);
  CHECK(bad.master == "panel");
  CHECK(bad.line == "ethernet");
  CHECK(rig.value(Point::setpoint) == 0.5);
  CHECK(rig.notes.has("write of setpoint = 500 % by panel refused"));
}

TEST_CASE("a clamped setpoint is told as clamped instead of as asked") {
  UnitSpec spec = base_spec();
  spec.table = make_table({.keep = false, .out_of_range = registers::OutOfRange::clamp});
  Rig rig(spec);
  rig.write(kSetpoint, 5000, 1s);
  CHECK(rig.value(Point::setpoint) == 1.0);
  REQUIRE(rig.writes.seen.size() == 1);
  CHECK(rig.writes.seen[0].asked == doctest::Approx(5.0));
  CHECK(rig.writes.seen[0].accepted);
}

TEST_CASE("a write of several registers is done in part when one of them is refused") {
  Rig rig(base_spec());
  // FC 16: setpoint 50 %, source 7 (no such source).
  const auto answer = rig.send({16, 0, 0, 0, 2, 4, 0x01, 0xF4, 0, 7}, 1s);
  CHECK(answer == modbus::Bytes{0x90, 3});
  CHECK(rig.value(Point::setpoint) == 0.0);
  for (const auto& write : rig.writes.seen) CHECK_FALSE(write.accepted);
}

TEST_CASE("a setting takes a value the unit cannot follow") {
  struct Case {
    Point point;
    double value;
    bool taken;
  };
  const Case cases[] = {
      {Point::setpoint, 0.0, true},
      {Point::setpoint, 1.0, true},
      {Point::setpoint, 1.01, false},
      {Point::setpoint, -0.01, false},
      {Point::setpoint, NAN, false},
      {Point::setpoint_source, 1.0, true},
      {Point::setpoint_source, 2.0, false},
      {Point::setpoint_source, 0.5, false},
      {Point::comms_timeout, 0.0, true},
      {Point::comms_timeout, 1.0e6, true},
      {Point::comms_timeout, -1.0, false},
      {Point::comms_timeout, INFINITY, false},
      {Point::comms_policy, 2.0, true},
      {Point::comms_policy, 3.0, false},
      {Point::heartbeat, -5.5, true},
      {Point::heartbeat, NAN, false},
      {Point::reset, 1.0, true},
      {Point::reset, 2.0, false},
      {Point::learn_load, 1.0, true},
      {Point::learn_load, 0.5, false},
      {Point::current_limit, 0.0, true},
      {Point::current_limit, -1.0, false},
      {Point::current_limit, NAN, false},
      {Point::supply_low_threshold, 0.85, true},
      {Point::supply_low_threshold, 101.0, false},
      {Point::heatsink_warm_threshold, 75.0, true},
      {Point::fuse_open_delay, 0.02, true},
      {Point::fuse_open_delay, -0.02, false},
  };
  for (const auto& one : cases) {
    CAPTURE(registers::point_info(one.point).name);
    CAPTURE(one.value);
    const auto result = may_write(one.point, one.value);
    CHECK(result.has_value() == one.taken);
    if (!result) CHECK(result.error() == modbus::Refusal::illegal_data_value);
  }
  CHECK(may_write(Point::load_power, 1.0).error() == modbus::Refusal::illegal_data_address);
}

TEST_CASE("a setpoint of 150 % is refused although its table, which gives no range, says clamp") {
  registers::Row row;
  row.point = Point::setpoint;
  row.layout.scale = 0.001;
  row.access = registers::Access::read_write;
  row.out_of_range = registers::OutOfRange::clamp;
  registers::TableParts parts;
  parts.rows = {row};
  const auto table = registers::make_register_table(std::move(parts));
  REQUIRE(table);
  UnitSpec spec = base_spec();
  spec.table = *table;
  Rig rig(spec);
  CHECK(rig.write(0, 1500, 1s) == Rig::write_pdu(0, 1500));
  CHECK(rig.value(Point::setpoint) == 1.0);
  CHECK(rig.output() == 1.0);
  CHECK(rig.notes.has("write of setpoint = 150 % by plc clamped to its range"));
}

TEST_CASE("lengths of time in the journal have more digits than those in the report") {
  Rig rig(base_spec());
  rig.write(kSetpoint, 500, 1s);
  rig.read(1s + 1'987'412'345ns);
  CHECK(rig.notes.has("closest call so far: 1.987 s without a feeding request, the timeout is 3 s"));
  rig.write(kTimeout, 6000, 3s);
  CHECK(rig.notes.has("comms_timeout 3 s -> 10 min"));
}

TEST_CASE("broadcasts are answered, or broadcast writes do nothing, or broadcast reads do") {
  Rig rig(base_spec());
  CHECK_FALSE(rig.send(Rig::write_pdu(kSetpoint, 500), 1s, "field", "plc", true));
  CHECK(rig.output() == 0.5);
  CHECK_FALSE(rig.send(Rig::read_pdu(kState), 2s, "field", "plc", true));
  CHECK(rig.unit.next_timer() == at(4s));
}

TEST_CASE("a program that writes a kept register cyclically is not warned, or warned often") {
  UnitSpec spec = base_spec();
  spec.comms_loss.timeout = 0s;
  spec.table = make_table({.keep = true, .out_of_range = registers::OutOfRange::exception_03});
  Rig slow(spec);
  for (int i = 0; i < 100; ++i) slow.write(kSetpoint, i, i * 30s);  // 20 in 10 min
  CHECK_FALSE(slow.notes.has("non-volatile"));
  Rig fast(spec);
  for (int i = 0; i < 20; ++i) fast.write(kSetpoint, i, i * 29s);
  CHECK_FALSE(fast.notes.has("non-volatile"));
  for (int i = 20; i < 200; ++i) fast.write(kSetpoint, i, i * 29s);
  CHECK(fast.notes.count("setpoint is non-volatile and was written more than 20 times within 10 min") == 1);
}

TEST_CASE("a value that does not fit its register is journaled at every read") {
  Rig rig(base_spec());
  Measured m;
  m.energy_J = 70'000 * 3.6e6;
  rig.unit.measure(at(0s), m);
  for (int i = 1; i < 5; ++i) {
    CHECK(rig.read(i * 1s, "field", kEnergy) == modbus::Bytes{3, 2, 0xFF, 0xFF});
  }
  CHECK(rig.notes.count("which does not fit its register at 0x000A (40011)") == 1);
}

TEST_CASE("a setting of a protection is another protection's, or a write to it is lost") {
  UnitSpec spec = base_spec();
  for (std::size_t p = 0; p < kProtectionCount; ++p) {
    spec.protections[p].threshold = 1.0 + static_cast<double>(p);
    spec.protections[p].after = (10 + static_cast<int>(p)) * 1s;
  }
  Settings settings = initial_settings(spec);
  for (const auto& info : all_protections()) {
    CAPTURE(info.word);
    const auto p = static_cast<std::size_t>(info.protection);
    std::string name(info.word);
    std::replace(name.begin(), name.end(), '-', '_');
    CHECK(registers::find_point(name + "_delay") == info.delay);
    CHECK(registers::find_point(name + "_threshold") == info.threshold);
    CHECK(plant_setting(std::as_const(settings), info.delay) == 10.0 + static_cast<double>(p));
    CHECK(info.warning.has_value() != info.trip.has_value());
    if (!info.threshold) continue;
    CHECK(plant_setting(std::as_const(settings), *info.threshold) == 1.0 + static_cast<double>(p));
    *plant_setting(settings, *info.threshold) = 0.5;
    CHECK(settings.threshold[p] == 0.5);
  }
  CHECK(plant_setting(settings, Point::setpoint) == nullptr);
}
