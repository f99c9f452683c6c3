// What a trip does to state, output and relays, and what it takes to get rid of it.
#include <doctest/doctest.h>

#include "tests/sim/unit/plant_rig.hpp"

using namespace emberline;
using namespace emberline::unit;
using registers::Trip;
using registers::Warning;

namespace {

constexpr auto kAll = {ResetBy::enable_cycle, ResetBy::reset_terminal, ResetBy::reset_register};

/// Trips by a hot heat sink, which stays the cause until it is cool.
UnitSpec hot_spec(std::vector<ResetBy> reset_by) {
  UnitSpec spec = plant_spec();
  of(spec, Protection::heatsink_over_temperature).reset_by = std::move(reset_by);
  return spec;
}

void heat(PlantRig& rig) {
  rig.measured.heatsink_degC = 120.0;
  rig.go(1s);
  REQUIRE(rig.trips(Trip::heatsink_over_temperature));
}

void cool(PlantRig& rig) {
  rig.measured.heatsink_degC = 40.0;
  rig.go(20ms);
}

/// One edge of a kind, whole.
void reset(PlantRig& rig, ResetBy by) {
  switch (by) {
    case ResetBy::enable_cycle:
      rig.cycle(rig.now);
      break;
    case ResetBy::reset_terminal:
      rig.reset_terminal(false, rig.now);
      rig.reset_terminal(true, rig.now);
      break;
    case ResetBy::reset_register:
      rig.write(kReset, 0, rig.now);
      rig.write(kReset, 1, rig.now);
      break;
  }
}

/// The first half of an edge, and the second.
void begin(PlantRig& rig, ResetBy by) {
  if (by == ResetBy::enable_cycle) rig.enable(false, rig.now);
  if (by == ResetBy::reset_terminal) rig.reset_terminal(true, rig.now);
  if (by == ResetBy::reset_register) rig.write(kReset, 1, rig.now);
}

}  // namespace

TEST_CASE("a trip leaves the output on, or its state and bit are not there at once") {
  PlantRig rig(plant_spec());
  rig.set(800);
  rig.go(1s);
  CHECK(rig.output() == doctest::Approx(0.8));
  rig.leg_S[1] = 0.8;  // 164 A of 63 A
  rig.step();
  CHECK(rig.state() == State::tripped);
  CHECK(rig.output() == 0.0);
  CHECK(rig.value(Point::trips) == registers::bit(Trip::over_current));
  CHECK(
      rig.notes.has("trip over-current: 164.6 A in l2, 261.2 % of the rated current; to clear it: a reset by "
                    "enable-cycle"));
  CHECK(rig.notes.has("state running -> tripped: trip over-current"));
  rig.set(500);  // stored, and nothing more
  rig.go(60s);
  CHECK(rig.state() == State::tripped);
  CHECK(rig.output() == 0.0);
  CHECK(rig.read(rig.now, "field", kSetpoint) == modbus::Bytes{3, 2, 1, 244});
}

TEST_CASE("an over-current cannot be reset at once although the output took its cause away") {
  for (const ResetBy by : kAll) {
    CAPTURE(static_cast<int>(by));
    UnitSpec spec = plant_spec();
    of(spec, Protection::over_current).reset_by = {by};
    PlantRig rig(spec);
    rig.set(800);
    rig.leg_S[1] = 0.8;
    rig.go(100ms);
    REQUIRE(rig.state() == State::tripped);
    rig.leg_S[1] = 0.2;
    reset(rig, by);
    CHECK(rig.state() == State::running);
    CHECK(rig.value(Point::trips) == 0.0);
    rig.go(1s);
    CHECK(rig.output() == doctest::Approx(0.8));
    rig.leg_S[1] = 0.8;
    rig.step();
    CHECK(rig.state() == State::tripped);
  }
}

TEST_CASE("a reset is taken while the cause is there, or is not after it") {
  for (const ResetBy by : kAll) {
    CAPTURE(static_cast<int>(by));
    PlantRig rig(hot_spec({by}));
    rig.set(500);
    heat(rig);
    reset(rig, by);
    CHECK(rig.state() == State::tripped);
    CHECK(rig.notes.has("refused: the cause of trip heatsink-over-temperature is still there"));
    rig.measured.heatsink_degC = 86.0;  // below the threshold, but not by the hysteresis
    rig.go(1s);
    reset(rig, by);
    CHECK(rig.state() == State::tripped);
    cool(rig);
    CHECK(rig.notes.has("cause of trip heatsink-over-temperature gone: heat sink at 40 degC"));
    CHECK(rig.state() == State::tripped);
    rig.go(10s);
    CHECK(rig.state() == State::tripped);
    reset(rig, by);
    CHECK(rig.state() == State::running);
    CHECK(rig.notes.count("trip heatsink-over-temperature cleared: reset by ") == 1);
  }
}

TEST_CASE("an edge that began before the cause had gone resets a trip") {
  for (const ResetBy by : kAll) {
    CAPTURE(static_cast<int>(by));
    PlantRig rig(hot_spec({by}));
    heat(rig);
    begin(rig, by);
    cool(rig);
    if (by == ResetBy::enable_cycle) rig.enable(true, rig.now);
    if (by == ResetBy::reset_register) rig.write(kReset, 1, rig.now);
    CHECK(rig.state() == State::tripped);
    if (by != ResetBy::reset_terminal)
      CHECK(rig.notes.has("before the cause of trip heatsink-over-temperature had gone"));
    reset(rig, by);
    CHECK(rig.state() == State::running);
  }
}

TEST_CASE("a trip is reset by what is not among its reset_by") {
  for (const ResetBy allowed : kAll) {
    PlantRig rig(hot_spec({allowed}));
    heat(rig);
    cool(rig);
    for (const ResetBy by : kAll) {
      if (by == allowed) continue;
      reset(rig, by);
      CHECK(rig.trips(Trip::heatsink_over_temperature));
    }
    CHECK(rig.notes.has("refused: it is not among reset_by of heatsink-over-temperature"));
    reset(rig, allowed);
    CHECK(rig.value(Point::trips) == 0.0);
  }
}

TEST_CASE("a cause that comes back before the reset does not count") {
  PlantRig rig(hot_spec({ResetBy::reset_terminal}));
  heat(rig);
  cool(rig);
  rig.measured.heatsink_degC = 120.0;
  rig.go(2s);
  CHECK(rig.notes.has("cause of trip heatsink-over-temperature is back: heat sink at 120 degC"));
  reset(rig, ResetBy::reset_terminal);
  CHECK(rig.state() == State::tripped);
  cool(rig);
  reset(rig, ResetBy::reset_terminal);
  CHECK(rig.state() == State::running);
}

TEST_CASE("several trips are reset by one that only some of them allow") {
  UnitSpec spec = hot_spec({ResetBy::enable_cycle, ResetBy::reset_register});
  of(spec, Protection::fuse_open).reset_by = {ResetBy::enable_cycle};
  PlantRig rig(spec);
  heat(rig);
  rig.measured.cycle.fuse_open[2] = true;
  rig.step();
  CHECK(rig.value(Point::trips) ==
        (registers::bit(Trip::heatsink_over_temperature) | registers::bit(Trip::fuse_open)));
  cool(rig);
  rig.measured.cycle.fuse_open[2] = false;
  rig.step();
  reset(rig, ResetBy::reset_register);
  CHECK(rig.value(Point::trips) == registers::bit(Trip::fuse_open));
  CHECK(rig.state() == State::tripped);
  reset(rig, ResetBy::enable_cycle);
  CHECK(rig.value(Point::trips) == 0.0);
  CHECK(rig.state() == State::running);
}

TEST_CASE("one edge does not reset several trips and the comms-loss latch") {
  for (const ResetBy by : kAll) {
    CAPTURE(static_cast<int>(by));
    UnitSpec spec = hot_spec({by});
    spec.comms_loss.timeout = 3s;
    spec.comms_loss.reset_by = {by};
    spec.comms_loss.setpoint_after_reset = SetpointAfterReset::keep;
    PlantRig rig(spec);
    rig.set(500);
    heat(rig);
    rig.go(4s);  // comms lost meanwhile
    CHECK(rig.state() == State::tripped);
    CHECK(rig.value(Point::trips) ==
          (registers::bit(Trip::comms_loss) | registers::bit(Trip::heatsink_over_temperature)));
    cool(rig);
    rig.poll();
    reset(rig, by);
    CHECK(rig.state() == State::running);
    CHECK(rig.value(Point::trips) == 0.0);
    CHECK(rig.output() == 0.5);
  }
}

TEST_CASE("the comms-loss latch gives state 7, or a trip that was reset hides it") {
  UnitSpec spec = hot_spec({ResetBy::reset_terminal});
  spec.comms_loss.timeout = 3s;
  PlantRig rig(spec);
  rig.poll();
  rig.go(4s);
  CHECK(rig.state() == State::inhibited);
  CHECK(rig.tripped());
  heat(rig);
  CHECK(rig.state() == State::tripped);
  cool(rig);
  reset(rig, ResetBy::reset_terminal);
  CHECK(rig.state() == State::inhibited);
  rig.poll();
  rig.cycle(rig.now);
  CHECK(rig.state() == State::running);
}

TEST_CASE("a trip does not come before inhibited and stopped, or after starting") {
  PlantRig rig(hot_spec({ResetBy::reset_terminal}));
  rig.enable(false, rig.now);
  CHECK(rig.state() == State::stopped);
  heat(rig);  // also while stopped
  CHECK(rig.state() == State::tripped);
  CHECK(rig.read(rig.now) == modbus::Bytes{3, 2, 0, 7});
  rig.unit.set_powered(false, at(rig.now));
  CHECK(rig.state() == State::unpowered);
  rig.unit.set_powered(true, at(rig.now));
  rig.go(500ms);
  CHECK(rig.state() == State::starting);
}

TEST_CASE("a power cycle keeps a trip, or hides that its cause is still there") {
  PlantRig rig(hot_spec({ResetBy::enable_cycle}));
  heat(rig);
  rig.unit.set_powered(false, at(rig.now));
  CHECK(rig.value(Point::trips) == 0.0);
  CHECK(rig.notes.has("trips are cleared by the loss of power"));
  rig.unit.set_powered(true, at(rig.now));
  rig.go(1200ms);
  CHECK(rig.state() == State::running);
  rig.go(1s);
  CHECK(rig.state() == State::tripped);
  rig.unit.set_powered(false, at(rig.now));
  cool(rig);
  rig.unit.set_powered(true, at(rig.now));
  rig.go(5s);
  CHECK(rig.state() == State::running);
}

TEST_CASE("a shorted thyristor can be reset while it conducts, or not once the contactor is open") {
  PlantRig rig(plant_spec());
  rig.off_A = 46.0;
  rig.go(1s);
  CHECK(rig.trips(Trip::thyristor_shorted));
  CHECK(rig.notes.has("trip thyristor-shorted: 46 A in l1 while the unit is off"));
  rig.cycle(rig.now);
  CHECK(rig.state() == State::tripped);
  rig.contactor = false;
  rig.go(100ms);
  rig.cycle(rig.now);
  CHECK(rig.state() == State::running);
  rig.contactor = true;  // not mended
  rig.go(1s);
  CHECK(rig.state() == State::tripped);
}

TEST_CASE("a shorted thyristor that carries an over-current lets that be reset") {
  UnitSpec spec = plant_spec();
  of(spec, Protection::thyristor_shorted).on = false;
  PlantRig rig(spec);
  rig.off_A = 200.0;
  rig.go(1s);
  CHECK(rig.trips(Trip::over_current));
  rig.cycle(rig.now);
  CHECK(rig.state() == State::tripped);
  rig.off_A = 0.0;
  rig.go(100ms);
  rig.cycle(rig.now);
  CHECK(rig.state() == State::running);
}

TEST_CASE("a fuse that has to cool lets an overload be reset at once") {
  PlantRig rig(plant_spec());
  rig.measured.cycle.fuse_heat[0] = 0.96;
  rig.step();
  CHECK(rig.trips(Trip::over_current));
  CHECK(rig.notes.has("trip overload: the fuse in l1 has taken 96 % of what melts it"));
  rig.measured.cycle.fuse_heat[0] = 0.85;
  rig.go(1s);
  rig.cycle(rig.now);
  CHECK(rig.trips(Trip::over_current));
  rig.measured.cycle.fuse_heat[0] = 0.7;
  rig.go(1s);
  rig.cycle(rig.now);
  CHECK(rig.value(Point::trips) == 0.0);
}

TEST_CASE("a relay does not act on the warning or trip it names") {
  UnitSpec spec = hot_spec({ResetBy::enable_cycle});
  RelaySpec on_warning;
  on_warning.on_warnings = registers::bit(Warning::heatsink_warm);
  RelaySpec on_trip;
  on_trip.on_trips = registers::bit(Trip::heatsink_over_temperature);
  spec.relays = {on_warning, on_trip};
  PlantRig rig(spec);
  CHECK(rig.unit.relay_closed(0));
  CHECK(rig.unit.relay_closed(1));
  rig.measured.heatsink_degC = 90.0;
  rig.go(3s);
  CHECK_FALSE(rig.unit.relay_closed(0));
  CHECK(rig.unit.relay_closed(1));
  heat(rig);
  CHECK_FALSE(rig.unit.relay_closed(1));
  cool(rig);
  CHECK(rig.unit.relay_closed(0));
  CHECK_FALSE(rig.unit.relay_closed(1));
  rig.cycle(rig.now);
  CHECK(rig.unit.relay_closed(1));
}

TEST_CASE("a program that writes reset in vain floods the journal") {
  PlantRig rig(hot_spec({ResetBy::reset_register}));
  heat(rig);
  for (int i = 0; i < 100; ++i) {
    reset(rig, ResetBy::reset_register);
    rig.step();
  }
  CHECK(rig.notes.count("refused") == 1);
  CHECK(rig.state() == State::tripped);
}

TEST_CASE("after a trip the ramp does not begin from 0") {
  UnitSpec spec = hot_spec({ResetBy::enable_cycle});
  spec.firing.ramp = 10s;
  PlantRig rig(spec);
  rig.set(1000);
  rig.go(20s);
  heat(rig);
  cool(rig);
  rig.cycle(rig.now);
  CHECK(rig.output() == 0.0);
  rig.go(1s);
  CHECK(rig.output() == doctest::Approx(0.1).epsilon(0.03));
}

TEST_CASE("a reset register that was 1 before a power cycle is still 1 for a trip after it") {
  PlantRig rig(hot_spec({ResetBy::reset_register}));
  rig.write(kReset, 1, rig.now);
  rig.unit.set_powered(false, at(rig.now));
  rig.unit.set_powered(true, at(rig.now));
  rig.go(2s);
  heat(rig);
  cool(rig);
  rig.write(kReset, 1, rig.now);
  CHECK(rig.state() == State::running);
}
