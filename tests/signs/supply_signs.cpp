// Faults of the supply: the sign by which a program that only reads registers recognises each.
#include <doctest/doctest.h>

#include "tests/signs/plc.hpp"

using namespace emberline;
using namespace emberline::test;
using registers::Point;
using registers::Trip;
using registers::Warning;

TEST_CASE("a lost phase is recognised by the trip phase-lost whatever the unit and its firing") {
  for (const char* unit : {"star", "star-with-neutral", "delta", "six-wire", "two-leg"}) {
    for (const double setpoint : {0.0, 0.2, 0.5, 0.8, 1.0}) {
      CAPTURE(unit);
      CAPTURE(setpoint);
      Bank plc;
      plc.command(unit, setpoint);  // the others are off: nobody but this unit holds the floating line
      plc.run(3s);
      CHECK(plc.read(unit, Point::supply_voltage_l2) == doctest::Approx(230.9).epsilon(0.01));
      plc.let("phase_lost supply.l2");
      plc.run(1s);
      CHECK(plc.tripped_by(unit, Trip::phase_lost));
      CHECK(plc.read(unit, Point::supply_voltage_l1) > 0.9 * 231.0);
      CHECK(plc.read(unit, Point::output) == 0.0);
    }
  }
}

TEST_CASE("a dip is recognised by supply-low, and power control makes up for it") {
  Bank plc;
  plc.command("star", 0.4);
  plc.run(3s);
  const double before = plc.read("star", Point::output);
  plc.let("dip supply to 80 %");
  plc.run(2s);
  CHECK(plc.warns("star", Warning::supply_low));
  CHECK(plc.read("star", Point::supply_voltage_l1) == doctest::Approx(0.8 * 230.9).epsilon(0.01));
  CHECK(plc.read("star", Point::load_power) == doctest::Approx(4000.0).epsilon(0.005));
  CHECK(plc.read("star", Point::output) > 1.4 * before);  // 1/0.8^2
  plc.let("mend supply");
  plc.run(2s);
  CHECK_FALSE(plc.warns("star", Warning::supply_low));
}

TEST_CASE("a swell is recognised by supply-high, and open loop by the power that goes with its square") {
  // +-10 % of the voltage: x 1.21 / x 0.81 of the power, by V^2/R.
  Bank plc;
  plc.command("star-with-neutral", 0.5);
  plc.run(3s);
  const double before = plc.read("star-with-neutral", Point::load_power);
  plc.let("dip supply to 115 %");
  plc.run(2s);
  CHECK(plc.warns("star-with-neutral", Warning::supply_high));
  CHECK(plc.read("star-with-neutral", Point::load_power) ==
        doctest::Approx(1.15 * 1.15 * before).epsilon(0.01));
}

TEST_CASE("a supply off its frequency is recognised by the warning and by the frequency it shows") {
  Bank plc;
  plc.run(1s);
  CHECK_FALSE(plc.warns("star", Warning::supply_frequency));
  plc.let("frequency supply to 47.6 Hz");
  plc.run(3s);
  CHECK(plc.warns("star", Warning::supply_frequency));
  CHECK(plc.read("star", Point::supply_frequency) == doctest::Approx(47.6));
}

TEST_CASE("an open contactor is recognised by supply-absent, which is no trip") {
  Bank plc;
  plc.command("star", 0.5);
  plc.run(2s);
  plc.io_coil("bank-io", 0, false);
  plc.run(1s);
  CHECK(plc.warns("star", Warning::supply_absent));
  CHECK(plc.read("star", Point::trips) == 0.0);
  CHECK(plc.read("star", Point::load_power) == 0.0);
}

TEST_CASE("a dip that passes takes back what it did, to the last register") {
  Bank plc;
  plc.command("star-with-neutral", 0.7);
  plc.run(3s);
  const double before = plc.read("star-with-neutral", Point::load_power);
  plc.let("dip supply to 60 % for 200 ms");
  plc.run(3s);
  CHECK(plc.read("star-with-neutral", Point::load_power) == before);
}
