// From setpoint to output: ramp, control variable, limits. Expected values are worked by hand from
// P = V^2/R = I^2 R, which makes power go with the square of RMS voltage and current of a resistive load.
#include "sim/unit/command_path.hpp"

#include <doctest/doctest.h>

#include "sim/base/random.hpp"
#include "tests/sim/unit/rig.hpp"

using namespace emberline;
using namespace emberline::unit;
using registers::bit;
using registers::Warning;

TEST_CASE("a control variable gives another output than its formula") {
  // A load of 8 ohm: 400 V, 50 A, 20 kW at full conduction.
  struct Case {
    const char* working;
    ControlVariable variable;
    double full_scale, demand, output;
  };
  const Case cases[] = {
      {"open loop is the demand itself", ControlVariable::open_loop, 0.0, 0.37, 0.37},
      {"200 V of 400 V: (1/2)^2", ControlVariable::voltage, 400.0, 0.5, 0.25},
      {"300 V of 400 V: (3/4)^2", ControlVariable::voltage, 300.0, 1.0, 0.5625},
      {"230 V full scale at 100 %: (230/400)^2", ControlVariable::voltage, 230.0, 1.0, 0.330625},
      {"half of (400 V)^2", ControlVariable::voltage_squared, 400.0, 0.5, 0.5},
      {"half of (200 V)^2 of (400 V)^2: 1/8", ControlVariable::voltage_squared, 200.0, 0.5, 0.125},
      {"10 A of 50 A: (1/5)^2", ControlVariable::current, 40.0, 0.25, 0.04},
      {"12 kW of 20 kW", ControlVariable::power, 24'000.0, 0.5, 0.6},
      {"24 kW of a load that takes 20 kW", ControlVariable::power, 24'000.0, 1.0, 1.0},
      {"nothing asked", ControlVariable::power, 24'000.0, 0.0, 0.0},
      {"480 V of 400 V", ControlVariable::voltage, 480.0, 1.0, 1.0},
  };
  for (const auto& one : cases) {
    CAPTURE(one.working);
    CHECK(share_of_demand({one.variable, one.full_scale}, one.demand, kFull) ==
          doctest::Approx(one.output).epsilon(1e-12));
  }
}

TEST_CASE("an open load is not driven to full conduction by current and power control") {
  const FullConduction open{400.0, 0.0, 0.0};
  CHECK(share_of_demand({ControlVariable::power, 24'000.0}, 0.1, open) == 1.0);
  CHECK(share_of_demand({ControlVariable::current, 50.0}, 0.1, open) == 1.0);
  CHECK(share_of_demand({ControlVariable::power, 24'000.0}, 0.0, open) == 0.0);
  CHECK(share_of_demand({ControlVariable::voltage, 400.0}, 0.5, open) == 0.25);
}

TEST_CASE("a limit does not hold the output, or the wrong one warns") {
  constexpr std::uint32_t kCurrent = bit(Warning::current_limit);
  constexpr std::uint32_t kVoltage = bit(Warning::voltage_limit);
  constexpr std::uint32_t kPower = bit(Warning::power_limit);
  struct Case {
    const char* working;
    LimitsSpec limits;
    double wanted, output;
    std::uint32_t acting;
  };
  const Case cases[] = {
      {"no limits", {}, 0.9, 0.9, 0},
      {"25 A of 50 A: 1/4", {25.0, {}, {}}, 0.9, 0.25, kCurrent},
      {"40 A of 50 A: 0.64, not reached", {40.0, {}, {}}, 0.6, 0.6, 0},
      {"exactly at the limit", {25.0, {}, {}}, 0.25, 0.25, 0},
      {"200 V of 400 V: 1/4", {{}, 200.0, {}}, 0.9, 0.25, kVoltage},
      {"5 kW of 20 kW", {{}, {}, 5000.0}, 0.9, 0.25, kPower},
      {"the lowest of three", {40.0, 300.0, 4000.0}, 0.9, 0.2, kPower},
      {"two at once", {25.0, 200.0, 10'000.0}, 0.9, 0.25, kCurrent | kVoltage},
      {"a limit above full conduction", {63.0, 500.0, 30'000.0}, 1.0, 1.0, 0},
  };
  for (const auto& one : cases) {
    CAPTURE(one.working);
    const auto limited = apply_limits(one.limits, one.wanted, kFull);
    CHECK(limited.output == doctest::Approx(one.output).epsilon(1e-12));
    CHECK(limited.acting == one.acting);
  }
}

TEST_CASE("a current limit does not follow the load's resistance, or its warning stays") {
  UnitSpec spec = base_spec();
  spec.comms_loss.timeout = 0s;
  spec.limits.current_A = 25.0;
  Rig rig(spec);
  rig.write(kSetpoint, 500, 1s);
  CHECK(rig.output() == doctest::Approx(0.25));
  CHECK(rig.warns(Warning::current_limit));
  rig.unit.advance(at(2s), {400.0, 40.0, 16'000.0});  // hotter
  CHECK(rig.output() == doctest::Approx(25.0 * 25.0 / 1600.0));
  rig.write(kSetpoint, 100, 3s);
  CHECK_FALSE(rig.warns(Warning::current_limit));
  CHECK(rig.notes.count("warning current-limit") == 1);
}

TEST_CASE("the ramp is not linear in time, up and down") {
  UnitSpec spec = base_spec();
  spec.comms_loss.timeout = 0s;
  spec.firing.ramp = 2s;
  Rig rig(spec);
  rig.write(kSetpoint, 800, 1s);
  CHECK(rig.output() == 0.0);
  CHECK(rig.unit.ramping());
  struct Row {
    Duration when;
    double output;
  };
  for (const auto& [when, output] : {Row{1s, 0.0}, Row{1250ms, 0.125}, Row{2s, 0.5}, Row{2600ms, 0.8}}) {
    rig.unit.advance(at(when), kFull);
    CHECK(rig.output() == doctest::Approx(output).epsilon(1e-12));
  }
  CHECK_FALSE(rig.unit.ramping());
  rig.write(kSetpoint, 200, 3s);
  for (const auto& [when, output] : {Row{3500ms, 0.55}, Row{4s, 0.3}, Row{4200ms, 0.2}, Row{9s, 0.2}}) {
    rig.unit.advance(at(when), kFull);
    CHECK(rig.output() == doctest::Approx(output).epsilon(1e-12));
  }
  rig.write(kSetpoint, 1000, 10s);  // turned round on the way
  rig.unit.advance(at(10500ms), kFull);
  CHECK(rig.output() == doctest::Approx(0.45));
  rig.write(kSetpoint, 0, 10500ms);
  rig.unit.advance(at(11s), kFull);
  CHECK(rig.output() == doctest::Approx(0.2));
}

TEST_CASE("the ramp depends on when and how often it is looked at") {
  UnitSpec spec = base_spec();
  spec.comms_loss.timeout = 0s;
  spec.firing.ramp = 700ms;
  Rig watched(spec);
  Rig alone(spec);
  Random random(7);
  Duration now{};
  for (int i = 0; i < 2000; ++i) {
    now += Duration{1 + static_cast<std::int64_t>(random.below(50'000'000))};
    if (random.below(20) == 0) {
      const auto setpoint = static_cast<int>(random.below(1001));
      watched.write(kSetpoint, setpoint, now);
      alone.write(kSetpoint, setpoint, now);
    }
    watched.read(now, "field", kOutput);
    watched.unit.advance(at(now), kFull);
    if (random.below(10) == 0) {
      alone.unit.advance(at(now), kFull);
      REQUIRE(watched.output() == alone.output());  // to the last bit
    }
  }
}

TEST_CASE("a ramp that is told its target again begins a new move") {
  Ramp told_often(700ms);
  Ramp told_once(700ms);
  told_once.aim(at(1s), 0.9);
  Random random(11);
  for (Duration now = 1s; now < 2s; now += Duration{1 + static_cast<std::int64_t>(random.below(9'000'000))}) {
    told_often.aim(at(now), 0.9);
    if (now == 1s) continue;
    REQUIRE(told_often.value(at(now)) == told_once.value(at(now)));  // to the last bit
  }
}

TEST_CASE("a read moves the output") {
  UnitSpec spec = base_spec();
  spec.comms_loss.timeout = 0s;
  spec.firing.ramp = 1s;
  Rig rig(spec);
  rig.write(kSetpoint, 1000, 1s);
  rig.unit.advance(at(1200ms), kFull);
  const double before = rig.output();
  rig.read(1900ms, "field", kOutput);
  rig.write(kHeartbeat, 1, 1900ms);
  CHECK(rig.output() == before);
}

TEST_CASE("off takes its time, or a start is not from 0") {
  UnitSpec spec = base_spec();
  spec.firing.ramp = 1s;
  spec.comms_loss.timeout = 0s;
  Rig rig(spec);
  rig.write(kSetpoint, 600, 1s);
  rig.unit.advance(at(3s), kFull);
  CHECK(rig.output() == doctest::Approx(0.6));
  rig.enable(false, 4s);
  CHECK(rig.output() == 0.0);
  CHECK_FALSE(rig.unit.ramping());
  rig.enable(true, 5s);
  CHECK(rig.output() == 0.0);
  rig.unit.advance(at(5300ms), kFull);
  CHECK(rig.output() == doctest::Approx(0.3));
}

TEST_CASE("a ramp of 0 is not at once") {
  Rig rig(base_spec());
  rig.write(kSetpoint, 730, 1s);
  CHECK(rig.output() == doctest::Approx(0.73));
  CHECK_FALSE(rig.unit.ramping());
}

TEST_CASE("when the supply comes back the unit does not start from 0") {
  for (const auto variable : {ControlVariable::open_loop, ControlVariable::power}) {
    UnitSpec spec = base_spec();
    spec.firing.ramp = 1s;
    spec.comms_loss.timeout = 0s;
    spec.control = {variable, 20'000.0};
    Rig rig(spec);
    rig.write(kSetpoint, 1000, 1s);
    rig.unit.advance(at(3s), kFull);
    CHECK(rig.output() == 1.0);
    rig.unit.advance(at(4s), {});
    CHECK(rig.output() == 0.0);
    CHECK(rig.state() == State::running);
    CHECK_FALSE(rig.unit.ramping());
    rig.write(kSetpoint, 800, 5s);
    CHECK(rig.output() == 0.0);
    rig.unit.advance(at(10s), kFull);
    CHECK(rig.output() == 0.0);
    CHECK(rig.unit.ramping());
    rig.unit.advance(at(10400ms), kFull);
    CHECK(rig.output() == doctest::Approx(0.4));
    rig.unit.advance(at(12s), kFull);
    CHECK(rig.output() == doctest::Approx(0.8));
  }
}

TEST_CASE("a held angle follows the setpoint, or is held in a unit that is off") {
  UnitSpec spec = base_spec();
  spec.firing.held_angle_deg = 90.0;
  Rig rig(spec);
  // Half the half-wave: half the power of a resistive load.
  rig.unit.advance(at(0s), {400.0, 50.0, 20'000.0, 0.5});
  CHECK(rig.unit.drive() == Drive{0.5, 90.0});
  rig.write(kSetpoint, 100, 1s);
  CHECK(rig.unit.drive().held_angle_deg == 90.0);
  rig.run(10s);
  CHECK(rig.unit.drive() == Drive{0.0, std::nullopt});
}
