// Every protection: when it is raised, when it goes, and when it has to keep quiet. Thresholds are the rig's
// own; how it ought to behave is common practice, no source, apart from the band of EN 50160.
#include <cmath>
#include <limits>
#include <string>

#include <doctest/doctest.h>

#include "sim/unit/protection_info.hpp"
#include "tests/sim/unit/plant_rig.hpp"

using namespace emberline;
using namespace emberline::unit;
using registers::Trip;
using registers::Warning;

namespace {

struct Case {
  Protection protection;
  double threshold;
  double hysteresis;
  std::function<void(PlantRig&, double)> make;  ///< lets the unit see this value
  double good, bad, in_band;
  int setpoint = 1000;  ///< per mille
};

/// One row a protection.
std::vector<Case> cases() {
  const auto all_phases = [](PlantRig& rig, double share) {
    rig.supply_V = {230.0 * share, 230.0 * share, 230.0 * share};
  };
  const auto heat_sink = [](PlantRig& rig, double degC) { rig.measured.heatsink_degC = degC; };
  return {
      {Protection::supply_low, 0.9, 0.02, all_phases, 1.0, 0.89, 0.91},
      {Protection::supply_low, 0.9, 0.02,
       [](PlantRig& rig, double share) { rig.supply_V[1] = 230.0 * share; }, 1.0, 0.89, 0.91},
      {Protection::supply_high, 1.1, 0.02, all_phases, 1.0, 1.11, 1.09},
      {Protection::supply_frequency, 1.0, 0.2,
       [](PlantRig& rig, double off_Hz) { rig.frequency_Hz = 50.0 - off_Hz; }, 0.0, 1.1, 0.9},
      {Protection::load_open, 0.02, 0.01,
       [](PlantRig& rig, double share) { rig.leg_S[2] = share * PlantRig::kRated_A / 230.0; }, 0.7, 0.01,
       0.025},
      {Protection::heatsink_warm, 70.0, 5.0, heat_sink, 40.0, 71.0, 66.0},
      {Protection::over_current, 1.5, 0.0,
       [](PlantRig& rig, double share) { rig.leg_S[0] = share * PlantRig::kRated_A / 230.0; }, 0.7, 1.6, 0.7},
      {Protection::overload, 0.9, 0.2,
       [](PlantRig& rig, double share) { rig.measured.cycle.fuse_heat[1] = share; }, 0.1, 0.95, 0.75},
      {Protection::phase_lost, 0.6, 0.1,
       [](PlantRig& rig, double share) {
         rig.between_V = {230.0 * std::sqrt(3.0), share * 230.0 * std::sqrt(3.0),
                          share * 230.0 * std::sqrt(3.0)};
       },
       1.0, 0.3, 0.65},
      {Protection::fuse_open, 0.5, 0.0,
       [](PlantRig& rig, double open) { rig.measured.cycle.fuse_open[0] = open > 0.5; }, 0.0, 1.0, 0.0},
      {Protection::heatsink_over_temperature, 90.0, 10.0, heat_sink, 40.0, 91.0, 82.0},
      {Protection::thyristor_shorted, 0.05, 0.02,
       [](PlantRig& rig, double share) { rig.off_A = share * PlantRig::kRated_A; }, 0.0, 0.06, 0.04, 0},
  };
}

bool raised(const PlantRig& rig, Protection protection) {
  const auto& info = protection_info(protection);
  return info.warning ? rig.warned(*info.warning) : rig.trips(*info.trip);
}

/// Only this protection, with the threshold of the case.
UnitSpec only(const Case& one, Duration after) {
  UnitSpec spec = plant_spec();
  spec.learn_on = LearnOn::command;
  for (auto& protection : spec.protections) protection.on = false;
  of(spec, one.protection) = {.threshold = one.threshold, .after = after, .hysteresis = one.hysteresis};
  return spec;
}

}  // namespace

TEST_CASE(
    "a protection is raised before or after its delay, or by a value that is not beyond its threshold") {
  for (const Duration after : {0ms, 20ms, 200ms, 1500ms}) {
    for (const auto& one : cases()) {
      CAPTURE(protection_info(one.protection).word);
      CAPTURE(after.count());
      PlantRig rig(only(one, after));
      rig.set(one.setpoint);
      one.make(rig, one.good);
      rig.go(3s);
      CHECK_FALSE(raised(rig, one.protection));
      CHECK_FALSE(rig.unit.unsettled());
      one.make(rig, one.threshold);  // at the threshold is not beyond it
      rig.go(one.protection == Protection::fuse_open ? 0s : 3s);
      CHECK_FALSE(raised(rig, one.protection));
      one.make(rig, one.bad);
      const Duration first_seen = rig.now + PlantRig::kCycle;
      CHECK(rig.until([&] { return raised(rig, one.protection); }) == first_seen + after);
      CHECK_FALSE(rig.unit.unsettled());
    }
  }
}

TEST_CASE("a condition that does not last raises a protection, or its parts are added up") {
  for (const auto& one : cases()) {
    CAPTURE(protection_info(one.protection).word);
    PlantRig rig(only(one, 200ms));
    rig.set(one.setpoint);
    for (int i = 0; i < 10; ++i) {
      one.make(rig, one.bad);
      rig.go(200ms);  // first seen 20 ms in: 180 ms long
      CHECK(rig.unit.unsettled());
      one.make(rig, one.good);
      rig.go(20ms);
      CHECK_FALSE(rig.unit.unsettled());
    }
    CHECK_FALSE(raised(rig, one.protection));
    CHECK(rig.value(Point::trips) == 0.0);
  }
}

TEST_CASE("a warning goes within its hysteresis, or stays beyond it") {
  for (const auto& one : cases()) {
    if (!protection_info(one.protection).warning) continue;
    const std::string word(protection_info(one.protection).word);
    CAPTURE(word);
    PlantRig rig(only(one, 100ms));
    rig.set(one.setpoint);
    one.make(rig, one.bad);
    rig.go(1s);
    CHECK(raised(rig, one.protection));
    one.make(rig, one.in_band);
    rig.go(1s);
    CHECK(raised(rig, one.protection));
    one.make(rig, one.good);
    rig.step();
    CHECK_FALSE(raised(rig, one.protection));
    CHECK(rig.state() == State::running);
    CHECK(rig.notes.count("warning " + word + ": ") == 1);
    CHECK(rig.notes.count("warning " + word + " gone: ") == 1);
  }
}

TEST_CASE("a small threshold with a large hysteresis stands for ever") {
  for (auto one : cases()) {
    const auto& info = protection_info(one.protection);
    if (!info.sound || !info.threshold) continue;
    CAPTURE(info.word);
    const double sound = *info.sound;
    one.threshold = sound + (one.threshold - sound) * 0.01;
    one.hysteresis = 0.5;
    UnitSpec spec = only(one, 0ms);
    of(spec, one.protection).reset_by = {ResetBy::reset_register};
    PlantRig rig(spec);
    rig.set(one.setpoint);
    one.make(rig, one.bad);
    rig.go(100ms);
    REQUIRE(raised(rig, one.protection));
    one.make(rig, sound);
    rig.go(100ms);
    if (info.trip) {
      rig.write(kReset, 1, rig.now);
      rig.write(kReset, 0, rig.now);
    }
    CHECK_FALSE(raised(rig, one.protection));
  }
}

TEST_CASE("a protection that is off acts") {
  for (const auto& one : cases()) {
    CAPTURE(protection_info(one.protection).word);
    UnitSpec spec = only(one, 0ms);
    of(spec, one.protection).on = false;
    PlantRig rig(spec);
    rig.set(one.setpoint);
    one.make(rig, one.bad);
    rig.go(3s);
    CHECK_FALSE(raised(rig, one.protection));
    CHECK(rig.state() == State::running);
  }
}

TEST_CASE("defaults alarm on a healthy load at any output and in any mode") {
  for (const auto mode : {FiringMode::phase_angle, FiringMode::burst_spread, FiringMode::burst}) {
    for (const int phases : {1, 3}) {
      UnitSpec spec = plant_spec();
      spec.firing.mode = mode;
      PlantRig rig(spec, phases);
      if (phases == 1) rig.supply_V = {230.0, 0.0, 0.0};  // lines it does not have
      for (const int setpoint : {1000, 1, 500, 10, 0, 30, 999}) {
        rig.set(setpoint);
        rig.go(4s);
        CAPTURE(setpoint);
        CHECK(rig.value(Point::warnings) == 0.0);
        CHECK(rig.value(Point::trips) == 0.0);
      }
    }
  }
}

TEST_CASE("supply or load are supervised behind an open contactor") {
  PlantRig rig(plant_spec());
  rig.set(500);
  rig.go(1s);
  rig.contactor = false;
  rig.supply_V = {0.0, 115.0, 300.0};
  rig.frequency_Hz = 40.0;
  rig.go(10s);
  CHECK(rig.value(Point::warnings) == registers::bit(Warning::supply_absent));
  CHECK(rig.value(Point::trips) == 0.0);
}

TEST_CASE("a warning of supply or load stands although the contactor was opened") {
  PlantRig rig(plant_spec());
  rig.set(500);
  rig.supply_V = {230.0, 230.0, 200.0};
  rig.leg_S[0] = 0.0;
  rig.go(3s);
  CHECK(rig.warned(Warning::supply_low));
  CHECK(rig.warned(Warning::load_open));
  rig.contactor = false;
  rig.step();
  CHECK(rig.value(Point::warnings) == registers::bit(Warning::supply_absent));
  CHECK(rig.notes.has("warning load-open gone: there is no supply to judge it by"));
}

TEST_CASE("a load that is not fired is called open, or one that was found open is called whole") {
  PlantRig rig(plant_spec());
  rig.leg_S[1] = 0.0;
  rig.go(5s);
  CHECK_FALSE(rig.warned(Warning::load_open));
  rig.set(500);
  rig.go(1500ms);
  CHECK(rig.warned(Warning::load_open));
  CHECK(rig.notes.has("warning load-open: 0 A in leg l2 at 162.6 V"));
  rig.set(0);
  rig.leg_S[1] = 0.2;  // mended while off: nobody has seen it yet
  rig.go(5s);
  CHECK(rig.warned(Warning::load_open));
  rig.set(300);
  rig.go(100ms);
  CHECK_FALSE(rig.warned(Warning::load_open));
}

TEST_CASE("a small firing angle is an open load") {
  UnitSpec spec = plant_spec();
  of(spec, Protection::load_open).threshold = 0.05;
  PlantRig rig(spec);
  rig.leg_S = {0.02, 0.02, 0.02};  // 4.6 A of 63 A
  rig.set(11);                     // a ninth of the voltage
  rig.go(5s);
  CHECK_FALSE(rig.warned(Warning::load_open));
  rig.leg_S[0] = 0.0;
  rig.go(2s);
  CHECK(rig.warned(Warning::load_open));
}

TEST_CASE("an open load is judged by so little voltage that its current is noise") {
  PlantRig rig(plant_spec());
  rig.leg_S[0] = 0.0;
  rig.set(9);  // 9.5 % of the nominal voltage
  rig.go(5s);
  CHECK_FALSE(rig.warned(Warning::load_open));
}

TEST_CASE("pauses between bursts are an open load, or an open load in bursts is not found") {
  for (const auto mode : {FiringMode::burst_spread, FiringMode::burst}) {
    UnitSpec spec = plant_spec();
    spec.firing.mode = mode;
    PlantRig rig(spec);
    rig.set(50);  // one cycle of 20
    rig.go(5s);
    CHECK(rig.value(Point::warnings) == 0.0);
    rig.leg_S[2] = 0.0;
    const Duration since = rig.now;
    const auto found = rig.until([&] { return rig.warned(Warning::load_open); });
    REQUIRE(found.has_value());
    CHECK(*found - since >= 1s);
    CHECK(*found - since <= 1s + 2 * 400ms);  // the delay, and a cycle that shows it at either end
  }
}

TEST_CASE("a missing phase is an open load") {
  UnitSpec spec = plant_spec();
  of(spec, Protection::phase_lost).on = false;
  PlantRig rig(spec);
  rig.set(800);
  rig.supply_V[1] = 0.0;
  rig.go(5s);
  CHECK_FALSE(rig.warned(Warning::load_open));
  CHECK(rig.warned(Warning::supply_low));
}

TEST_CASE("a supply that is low in all phases, or a single phase, is a phase lost") {
  PlantRig all(plant_spec());
  all.supply_V = {80.0, 80.0, 80.0};
  all.go(3s);
  CHECK_FALSE(all.trips(Trip::phase_lost));
  CHECK(all.warned(Warning::supply_low));
  PlantRig one(plant_spec(), 1);
  one.supply_V = {80.0, 0.0, 0.0};
  one.go(3s);
  CHECK_FALSE(one.trips(Trip::phase_lost));
  CHECK(one.warned(Warning::supply_low));
}

TEST_CASE("a lost line that floats near its own voltage against neutral is not lost, or the wrong one is") {
  // Two resistors of a star behind the lost line divide the voltage between the two others: each of the two
  // voltages to it is half of that (Kirchhoff).
  for (const double floats_V : {115.0, 183.0, 230.0, 272.0}) {
    for (std::size_t lost = 0; lost < 3; ++lost) {
      PlantRig rig(plant_spec());
      rig.set(500);
      rig.go(1s);
      rig.supply_V[lost] = floats_V;
      rig.between_V = {200.0, 200.0, 200.0};
      (*rig.between_V)[(lost + 1) % 3] = 400.0;
      rig.go(2s);
      CHECK(rig.trips(Trip::phase_lost));
      CHECK(rig.notes.has("trip phase-lost: 200 V between l" + std::to_string(lost + 1) +
                          " and another line, 50.2 % of the nominal voltage"));
      CHECK(rig.value(Point::warnings) == 0.0);  // one cause, one word
    }
  }
}

TEST_CASE("supply-low or supply-high speak beside a lost phase, or are deaf where that is not supervised") {
  UnitSpec spec = plant_spec();
  for (const bool supervised : {true, false}) {
    of(spec, Protection::phase_lost).on = supervised;
    PlantRig rig(spec);
    rig.supply_V = {230.0, 180.0, 270.0};
    rig.between_V = {200.0, 200.0, 400.0};
    rig.go(3s);
    CHECK(rig.trips(Trip::phase_lost) == supervised);
    CHECK(rig.warned(Warning::supply_low) != supervised);
    CHECK(rig.warned(Warning::supply_high) != supervised);
    rig.between_V = {390.0, 390.0, 400.0};  // there again, and off its voltage
    rig.go(3s);
    CHECK(rig.warned(Warning::supply_low));
    CHECK(rig.warned(Warning::supply_high));
  }
}

TEST_CASE("opening the contactor is a way round the cause of a lost phase") {
  PlantRig rig(plant_spec());
  rig.set(500);
  rig.supply_V[1] = 0.0;
  rig.go(1s);
  REQUIRE(rig.trips(Trip::phase_lost));
  rig.contactor = false;
  rig.go(1s);
  CHECK_FALSE(rig.notes.has("cause of trip phase-lost gone"));
  rig.cycle(rig.now);
  CHECK(rig.trips(Trip::phase_lost));
  rig.contactor = true;
  rig.go(1s);
  rig.cycle(rig.now);
  CHECK(rig.trips(Trip::phase_lost));
  rig.supply_V[1] = 230.0;
  rig.step();
  CHECK(rig.notes.count("cause of trip phase-lost gone: 398.4 V between ") == 1);
  rig.cycle(rig.now);
  CHECK(rig.state() == State::running);
}

TEST_CASE("the tail of an inductive load is a shorted thyristor") {
  // The current through 16 ohm and 60 mH runs on after its last half-wave was fired, until it is zero.
  for (const int setpoint : {330, 500, 900}) {
    UnitSpec spec = plant_spec();
    spec.firing.mode = FiringMode::burst_spread;
    of(spec, Protection::thyristor_shorted).after = 0ms;
    PlantRig rig(spec);
    bool before = false;
    rig.change = [&before](Measured& m) {
      if (before && !m.cycle.fired) m.cycle.line_A = {40.0, 40.0, 40.0};
      before = m.cycle.fired;
    };
    rig.set(setpoint);
    rig.go(10s);
    rig.set(0);
    rig.go(10s);
    CHECK(rig.value(Point::trips) == 0.0);
  }
}

TEST_CASE("a shorted thyristor is not found in bursts") {
  for (const int setpoint : {10, 100, 330, 500, 900}) {
    CAPTURE(setpoint);
    UnitSpec spec = plant_spec();
    spec.firing.mode = FiringMode::burst_spread;
    PlantRig rig(spec);
    rig.set(setpoint);
    rig.go(5s);
    rig.off_A = 32.5;
    rig.go(1s);
    // Where no two cycles follow each other unfired there is nothing to judge by.
    CHECK(rig.trips(Trip::thyristor_shorted) == (setpoint < 500));
    rig.set(0);
    rig.go(200ms);
    CHECK(rig.trips(Trip::thyristor_shorted));
  }
}

TEST_CASE("cycles with current and others without it add up to a shorted thyristor") {
  UnitSpec spec = plant_spec();
  spec.firing.mode = FiringMode::burst_spread;
  PlantRig rig(spec);
  int judged = 0;
  bool before = false;
  rig.change = [&](Measured& m) {  // on, off, off: every other second off cycle shows a current
    if (!before && !m.cycle.fired && ++judged % 2 == 0) m.cycle.line_A = {32.5, 0.0, 0.0};
    before = m.cycle.fired;
  };
  rig.set(333);
  rig.go(10s);
  CHECK(rig.value(Point::trips) == 0.0);
}

TEST_CASE("a unit without a heat sink warns of its temperature") {
  PlantRig rig(plant_spec());
  rig.measured.heatsink_degC = std::numeric_limits<double>::quiet_NaN();
  rig.set(500);
  rig.go(10s);
  CHECK(std::isnan(rig.value(Point::heatsink_temperature)));
  CHECK(rig.value(Point::warnings) == 0.0);
  CHECK(rig.value(Point::trips) == 0.0);
  CHECK_FALSE(rig.unit.unsettled());
}

TEST_CASE("a heat sink whose temperature is not known has cooled down") {
  PlantRig rig(plant_spec());
  rig.measured.heatsink_degC = 120.0;
  rig.go(3s);
  REQUIRE(rig.trips(Trip::heatsink_over_temperature));
  rig.measured.heatsink_degC = std::numeric_limits<double>::quiet_NaN();
  rig.go(1s);
  rig.cycle(rig.now);
  CHECK(rig.trips(Trip::heatsink_over_temperature));
  CHECK(rig.warned(Warning::heatsink_warm));
}

TEST_CASE("leakage of an off thyristor is a shorted one, or current while fired is") {
  PlantRig rig(plant_spec());
  rig.off_A = 0.010;
  rig.go(5s);
  rig.set(1000);
  rig.go(5s);
  CHECK(rig.value(Point::trips) == 0.0);
}

TEST_CASE("sensor-fault does not follow the sensor of the zone") {
  PlantRig rig(plant_spec());
  rig.measured.cycle.sensor_fault = true;
  rig.step();
  CHECK(rig.warned(Warning::sensor_fault));
  CHECK(rig.state() == State::running);
  rig.measured.cycle.sensor_fault = false;
  rig.step();
  CHECK_FALSE(rig.warned(Warning::sensor_fault));
  CHECK(rig.notes.count("sensor-fault") == 2);
}

TEST_CASE("a warning that flickers floods the journal") {
  UnitSpec spec = plant_spec();
  of(spec, Protection::supply_low) = {.threshold = 0.9};
  PlantRig rig(spec);
  for (int i = 0; i < 500; ++i) {
    rig.supply_V[0] = i % 2 == 0 ? 200.0 : 230.0;
    rig.step();
    CHECK(rig.warned(Warning::supply_low) == (i % 2 == 0));
  }
  CHECK(rig.notes.count("warning supply-low") == 2);  // in 10 s
}

TEST_CASE("the journal's last word on a warning that came back and stayed is that it has gone") {
  UnitSpec spec = plant_spec();
  of(spec, Protection::supply_low) = {.threshold = 0.9};
  PlantRig rig(spec);
  const auto dip = [&rig](double volts, Duration length) {
    rig.supply_V[0] = volts;
    rig.go(length);
  };
  dip(200.0, 2s);
  dip(230.0, 1s);
  dip(201.0, 6s);
  CHECK(rig.notes.count("warning supply-low") == 2);
  dip(201.0, 2s);
  CHECK(rig.notes.has("warning supply-low: 201 V"));
  CHECK(rig.notes.has("; it came again 7 s ago"));
  CHECK(rig.notes.count("warning supply-low") == 3);
  dip(230.0, 1s);
  CHECK(rig.notes.count("warning supply-low gone") == 2);  // who has heard of it hears of its end
  dip(202.0, 1s);
  dip(230.0, 20s);
  CHECK(rig.notes.count("warning supply-low") == 4);  // a flicker is left out as before
  dip(203.0, 100ms);
  dip(230.0, 100ms);
  dip(204.0, 100ms);
  rig.unit.set_powered(false, at(rig.now));
  rig.go(20s);
  CHECK_FALSE(rig.notes.has("204 V"));  // it was over before it could be told
}

TEST_CASE("warnings stand in a unit without control supply, or its delays run on") {
  PlantRig rig(plant_spec());
  rig.measured.heatsink_degC = 85.0;
  rig.go(3s);
  CHECK(rig.warned(Warning::heatsink_warm));
  rig.unit.set_powered(false, at(rig.now));
  CHECK_FALSE(rig.unit.unsettled());
  rig.go(5s);
  CHECK(rig.value(Point::warnings) == 0.0);
  rig.unit.set_powered(true, at(rig.now));
  const Duration answers = rig.now + 1s;
  const auto again = rig.until([&] { return rig.warned(Warning::heatsink_warm); });
  REQUIRE(again.has_value());
  CHECK(*again >= answers + 2s);
  CHECK(*again <= answers + 2s + PlantRig::kCycle);
}

TEST_CASE("a threshold or delay that was written does not act") {
  PlantRig rig(plant_spec());
  rig.write(kPhaseLostDelay, 100, rig.now);  // 1 s instead of 200 ms
  CHECK(rig.value(Point::phase_lost_delay) == 1.0);
  CHECK(rig.notes.has("phase_lost_delay 0.2 s -> 1 s, written by plc"));
  rig.supply_V[0] = 0.0;
  const Duration first_seen = rig.now + PlantRig::kCycle;
  CHECK(rig.until([&] { return rig.trips(Trip::phase_lost); }) == first_seen + 1s);
}
