// The loop around the command path: limits as settings, loads of another law, response, supply compensation.
#include <doctest/doctest.h>

#include "tests/sim/unit/plant_rig.hpp"

using namespace emberline;
using namespace emberline::unit;
using registers::Trip;
using registers::Warning;

namespace {

/// Mean leg current, mean leg voltage, total power of the last cycle.
double current_A(const PlantRig& rig) {
  const auto& a = rig.measured.cycle.load_A;
  return (a[0] + a[1] + a[2]) / 3.0;
}
double voltage_V(const PlantRig& rig) {
  const auto& v = rig.measured.cycle.load_V;
  return (v[0] + v[1] + v[2]) / 3.0;
}
double power_W(const PlantRig& rig) { return rig.measured.cycle.power_W; }

const std::function<double(double)> kLaws[] = {
    [](double s) { return std::pow(s, 1.6); },                          // late, as inductance makes it
    [](double s) { return std::sqrt(s); },                              // early
    [](double s) { return 0.4 * s + 0.6 * s * s * s; },                 // bent
    [](double s) { return s < 0.1 ? 0.0 : (s - 0.1) / 0.9 * 0.9 * s; }  // nothing at first
};

UnitSpec controlled(ControlVariable variable, double full_scale) {
  UnitSpec spec = plant_spec();
  spec.control.variable = variable;
  spec.control.full_scale = full_scale;
  return spec;
}

}  // namespace

TEST_CASE("a measured control variable does not meet its demand when the load is no plain resistor") {
  struct Case {
    ControlVariable variable;
    double full_scale;
    double (*measured)(const PlantRig&);
    double at_half;
  };
  const Case cases[] = {
      {ControlVariable::voltage, 230.0, voltage_V, 115.0},
      {ControlVariable::voltage_squared, 230.0, voltage_V, 230.0 * std::sqrt(0.5)},
      {ControlVariable::current, 46.0, current_A, 23.0},
      {ControlVariable::power, 31'740.0, power_W, 15'870.0},
  };
  for (const auto& one : cases) {
    for (const auto& law : kLaws) {
      CAPTURE(one.at_half);
      PlantRig rig(controlled(one.variable, one.full_scale));
      rig.law = law;
      rig.set(500);
      rig.go(40 * PlantRig::kCycle);
      CHECK(one.measured(rig) == doctest::Approx(one.at_half).epsilon(2e-4));
      rig.go(4s);  // the load is learned meanwhile
      CHECK_FALSE(rig.unit.unsettled());
      CHECK(one.measured(rig) == doctest::Approx(one.at_half).epsilon(2e-4));
      const double settled = rig.output();
      rig.go(1s);
      CHECK(rig.output() == settled);
    }
  }
}

TEST_CASE("a plain load's output is not exactly what is fed forward, whatever happens to it") {
  UnitSpec spec = controlled(ControlVariable::power, 31'740.0);
  spec.firing.ramp = 1s;
  PlantRig rig(spec);
  for (const int setpoint : {500, 100, 1000, 730}) {
    rig.set(setpoint);
    rig.go(3s);
    CHECK(rig.output() == doctest::Approx(setpoint / 1000.0).epsilon(1e-12));
  }
  rig.leg_S = {0.1, 0.1, 0.1};  // half the elements fail
  rig.set(300);
  rig.go(3s);
  CHECK(rig.output() == doctest::Approx(0.6).epsilon(1e-12));
  rig.supply_V = {250.0, 250.0, 250.0};
  rig.go(3s);
  CHECK(rig.output() == doctest::Approx(0.6 * 230.0 * 230.0 / 250.0 / 250.0).epsilon(1e-12));
}

TEST_CASE("a cycle in which the setpoint changed teaches the loop a law that the load does not have") {
  struct Case {
    Duration later;
    double share;     ///< of the power, in the cycle in which the setpoint is written
    double fired_by;  ///< what the bench says of that cycle
  };
  // Fired by what was asked for at its first instant; or, with a fault in its middle, 7 ms at 20 % and 13 ms
  // at 80 %: neither.
  for (const auto& [later, share, fired_by] :
       {Case{0ms, 0.2, 0.2}, Case{7ms, 0.2, 0.2}, Case{7ms, 0.6, 0.8}}) {
    CAPTURE(share);
    PlantRig rig(controlled(ControlVariable::power, 31'740.0));
    rig.set(200);
    rig.go(1s);
    rig.write(kSetpoint, 800, rig.now + later);
    rig.law = [seen = share](double) { return seen; };
    rig.change = [output = fired_by](Measured& measured) { measured.cycle.output = output; };
    rig.step();
    rig.law = [](double output) { return output; };
    rig.change = nullptr;
    CHECK(rig.output() == 0.8);
    rig.go(1s);
    CHECK(rig.output() == 0.8);
  }
}

TEST_CASE("a limit holds what the output would give a plain load instead of what is measured") {
  struct Case {
    LimitsSpec limits;
    double (*measured)(const PlantRig&);
    double limit;
    Warning warning;
  };
  const Case cases[] = {
      {{20.0, {}, {}}, current_A, 20.0, Warning::current_limit},
      {{{}, 120.0, {}}, voltage_V, 120.0, Warning::voltage_limit},
      {{{}, {}, 9'000.0}, power_W, 9'000.0, Warning::power_limit},
  };
  for (const auto& one : cases) {
    for (const auto& law : kLaws) {
      CAPTURE(one.limit);
      UnitSpec spec = plant_spec();
      spec.limits = one.limits;
      PlantRig rig(spec);
      rig.law = law;
      rig.set(1000);
      rig.go(40 * PlantRig::kCycle);
      CHECK(one.measured(rig) == doctest::Approx(one.limit).epsilon(2e-4));
      CHECK(rig.warned(one.warning));
    }
  }
}

TEST_CASE("limits cannot be written, or a limit of 0 holds the output at 0") {
  UnitSpec spec = plant_spec();
  spec.limits.current_A = 23.0;
  spec.table = make_table({.keep = true, .out_of_range = registers::OutOfRange::exception_03});
  PlantRig rig(spec);
  CHECK(rig.value(Point::current_limit) == 23.0);
  CHECK(rig.value(Point::power_limit) == 0.0);
  rig.set(1000);
  rig.go(1s);
  CHECK(current_A(rig) == doctest::Approx(23.0));
  rig.write(kCurrentLimit, 115, rig.now);
  CHECK(rig.output() == doctest::Approx(1.0 / 16.0));  // at once
  CHECK(rig.notes.has("current_limit 23 A -> 11.5 A, written by plc"));
  rig.write(kCurrentLimit, 0, rig.now);
  CHECK(rig.output() == 1.0);
  CHECK_FALSE(rig.warned(Warning::current_limit));
  rig.write(kVoltageLimit, 1150, rig.now);
  CHECK(rig.output() == doctest::Approx(0.25));
  CHECK(rig.warned(Warning::voltage_limit));
  rig.write(kPowerLimit, 317, rig.now);
  rig.go(1s);
  CHECK(power_W(rig) == doctest::Approx(3170.0));
  CHECK(rig.warned(Warning::power_limit));
  rig.write(kCurrentLimit, 300, rig.now);
  rig.unit.set_powered(false, at(rig.now));
  CHECK(rig.value(Point::current_limit) == doctest::Approx(30.0));  // the table keeps it
  CHECK(rig.value(Point::power_limit) == 0.0);
}

TEST_CASE("a current limit holds back a burst, or lets it pass without a trip") {
  for (const auto mode : {FiringMode::burst_spread, FiringMode::burst}) {
    UnitSpec spec = plant_spec();
    spec.firing.mode = mode;
    spec.limits.current_A = 46.0;  // what the load takes
    PlantRig rig(spec);
    rig.set(300);
    rig.go(10s);
    CHECK(rig.value(Point::trips) == 0.0);
    CHECK(rig.output() == doctest::Approx(0.3));
    rig.write(kCurrentLimit, 200, rig.now);
    CHECK(rig.output() == doctest::Approx(0.3));
    CHECK(rig.until([&] { return rig.trips(Trip::over_current); }).has_value());
    CHECK(rig.state() == State::tripped);
    CHECK(rig.notes.has(
        "trip over-current: 46 A through leg l1 in a fired cycle, the current limit is 20 A, and a burst of "
        "whole cycles has no angle to hold the current back by"));
    rig.write(kCurrentLimit, 500, rig.now);
    rig.cycle(rig.now);
    rig.go(5s);
    CHECK(rig.state() == State::running);
  }
}

TEST_CASE("bursts trip over-current although that is off") {
  UnitSpec spec = plant_spec();
  spec.firing.mode = FiringMode::burst_spread;
  spec.limits.current_A = 20.0;  // the load takes 46 A
  of(spec, Protection::over_current).on = false;
  PlantRig rig(spec);
  rig.set(300);
  rig.go(10s);
  CHECK(rig.value(Point::trips) == 0.0);
  CHECK(rig.state() == State::running);
}

TEST_CASE("one leg of an unbalanced load carries more than the current limit") {
  for (const auto& law : kLaws) {
    UnitSpec spec = plant_spec();
    spec.limits.current_A = 20.0;
    PlantRig rig(spec);
    rig.leg_S = {0.1, 0.2, 0.05};  // 46 A in l2, 26.8 A in the mean
    rig.law = law;
    rig.set(1000);
    rig.go(40 * PlantRig::kCycle);
    CHECK(rig.measured.cycle.load_A[1] == doctest::Approx(20.0).epsilon(2e-4));
    CHECK(rig.warned(Warning::current_limit));
  }
}

TEST_CASE("a control variable is the highest leg instead of the mean") {
  UnitSpec spec = controlled(ControlVariable::current, 46.0);
  spec.limits.current_A = 60.0;
  PlantRig rig(spec);
  rig.leg_S = {0.1, 0.2, 0.15};
  rig.set(500);
  rig.go(1s);
  CHECK(current_A(rig) == doctest::Approx(23.0));
}

TEST_CASE("a burst passes whose current limit is passed in one leg only") {
  UnitSpec spec = plant_spec();
  spec.firing.mode = FiringMode::burst_spread;
  spec.limits.current_A = 40.0;
  PlantRig rig(spec);
  rig.leg_S = {0.1, 0.1, 0.2};
  rig.set(300);
  rig.go(1s);
  CHECK(rig.trips(Trip::over_current));
  CHECK(rig.notes.has("trip over-current: 46 A through leg l3 in a fired cycle, the current limit is 40 A"));
}

TEST_CASE("voltage and power limits do not hold the duty of bursts back") {
  UnitSpec spec = plant_spec();
  spec.firing.mode = FiringMode::burst_spread;
  spec.limits.power_W = 31'740.0 / 4.0;
  PlantRig rig(spec);
  rig.set(1000);
  rig.go(1s);
  CHECK(rig.value(Point::duty) == doctest::Approx(0.25));
  CHECK(rig.warned(Warning::power_limit));
}

TEST_CASE("the output does not follow with the time constant of its response") {
  for (const auto mode : {FiringMode::phase_angle, FiringMode::burst_spread}) {
    for (const Duration response : {100ms, 2000ms}) {
      UnitSpec spec = plant_spec();
      spec.firing.mode = mode;
      spec.control.response = response;
      PlantRig rig(spec);
      rig.set(800);
      CHECK(rig.output() == 0.0);
      for (const double constants : {1.0, 2.0, 3.0}) {  // 1 - exp(-t/T): 63.2 %, 86.5 %, 95.0 %
        rig.go(response);
        CHECK(rig.output() == doctest::Approx(0.8 * (1.0 - std::exp(-constants))).epsilon(1e-9));
        CHECK(rig.unit.unsettled());
      }
      rig.go(20 * response);
      CHECK(rig.output() == 0.8);  // arrived
      rig.set(200);
      rig.go(response);
      CHECK(rig.output() == doctest::Approx(0.2 + 0.6 * std::exp(-1.0)).epsilon(1e-9));
      rig.enable(false, rig.now);
      CHECK(rig.output() == 0.0);  // off is at once
      rig.enable(true, rig.now);
      rig.go(response);
      CHECK(rig.output() == doctest::Approx(0.2 * (1.0 - std::exp(-1.0))).epsilon(1e-9));
    }
  }
}

TEST_CASE("the response depends on when the setpoint was written or who reads") {
  UnitSpec spec = plant_spec();
  spec.control.response = 1s;
  PlantRig rig(spec);
  rig.go(10s);
  rig.write(kSetpoint, 1000, rig.now + 7ms);
  const Duration written = rig.now + 7ms;
  rig.read(rig.now + 9ms, "field", kOutput);
  CHECK(rig.output() == 0.0);
  rig.go(1s);
  CHECK(rig.output() == doctest::Approx(1.0 - std::exp(-to_seconds(rig.now - written))).epsilon(1e-9));
}

TEST_CASE("gain does not make the loop quicker, or overshoot where the cycle is long") {
  UnitSpec spec = plant_spec();
  spec.control.response = 10s;
  spec.control.gain = 2.0;
  PlantRig slow(spec);
  slow.set(1000);
  slow.go(5s);
  CHECK(slow.output() == doctest::Approx(1.0 - std::exp(-1.0)).epsilon(2e-3));
  spec.control.response = 10ms;
  PlantRig quick(spec);
  quick.set(400);
  quick.step();
  CHECK(quick.output() > 0.6);
  quick.step();
  CHECK(quick.output() < 0.3);
}

TEST_CASE("response and ramp wind up a loop on a load of another law") {
  UnitSpec spec = controlled(ControlVariable::power, 31'740.0);
  spec.control.response = 500ms;
  spec.firing.ramp = 2s;
  PlantRig rig(spec);
  rig.law = kLaws[0];
  rig.set(500);
  double largest_W = 0.0;
  for (int i = 0; i < 500; ++i) {
    rig.step();
    largest_W = std::max(largest_W, power_W(rig));
  }
  CHECK(power_W(rig) == doctest::Approx(15'870.0).epsilon(3e-4));
  CHECK(largest_W < 15'870.0 * 1.02);
}

TEST_CASE("a soft start teaches the loop a law that the load does not have") {
  UnitSpec spec = controlled(ControlVariable::power, 31'740.0);
  spec.firing.soft_start = 1s;
  PlantRig rig(spec);
  rig.set(500);
  const Duration begun = rig.now;
  rig.law = [&](double s) { return s * std::min(1.0, to_seconds(rig.now - begun)); };
  rig.go(3s);
  CHECK(rig.output() == 0.5);
  CHECK(power_W(rig) == doctest::Approx(15'870.0));
}

TEST_CASE("supply compensation does not keep the power of an open loop") {
  for (const auto mode : {FiringMode::phase_angle, FiringMode::burst_spread}) {
    UnitSpec spec = plant_spec();
    spec.firing.mode = mode;
    spec.control.supply_compensation = true;
    PlantRig rig(spec);
    rig.set(500);
    rig.go(1s);
    CHECK(rig.output() == doctest::Approx(0.5).epsilon(1e-12));
    rig.supply_V = {207.0, 207.0, 207.0};  // 90 %: 1/0.81
    rig.go(1s);
    CHECK(rig.output() == doctest::Approx(0.5 / 0.81).epsilon(1e-12));
    rig.supply_V = {253.0, 253.0, 253.0};
    rig.go(1s);
    CHECK(rig.output() == doctest::Approx(0.5 / 1.21).epsilon(1e-12));
    rig.set(1000);
    rig.supply_V = {207.0, 207.0, 207.0};
    rig.go(1s);
    CHECK(rig.output() == 1.0);  // there is no more
  }
}
