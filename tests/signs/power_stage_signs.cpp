// Faults of thyristors, fuses and heat sinks: the sign by which a program that only reads registers
// recognises each.
#include <algorithm>
#include <cmath>

#include <doctest/doctest.h>

#include "tests/signs/plc.hpp"

using namespace emberline;
using namespace emberline::test;
using registers::Point;
using registers::Trip;
using registers::Warning;

TEST_CASE("a thyristor that does not fire is recognised by direct current and half the leg's power") {
  // An open thyristor at full conduction halves the power and leaves sqrt(2)/pi x Vs/R / 2 of mean current:
  // M. H. Rashid, Power Electronics, ch. 11, half-wave control at angle 0.
  Bank plc;
  plc.command("star-with-neutral", 1.0);
  plc.run(3s);
  const double before = plc.read("star-with-neutral", Point::load_power_l1);
  CHECK(std::abs(plc.read("star-with-neutral", Point::dc_current_l1)) < 0.05);
  plc.let("thyristor_open star-with-neutral.l1.forward");
  plc.run(2s);
  CHECK(plc.read("star-with-neutral", Point::load_power_l1) == doctest::Approx(0.5 * before).epsilon(0.01));
  CHECK(plc.read("star-with-neutral", Point::dc_current_l1) ==
        doctest::Approx(-0.45016 * 230.94 / 16.0).epsilon(0.02));  // only the backward one is left
  CHECK(std::abs(plc.read("star-with-neutral", Point::dc_current_l2)) < 0.05);
}

TEST_CASE("a shorted thyristor is recognised by current without command, and only the contactor stops it") {
  Bank plc;
  plc.command("star-with-neutral", 0.0);
  plc.run(2s);
  plc.let("thyristor_shorted star-with-neutral.l2");
  plc.run(2s);
  CHECK(plc.tripped_by("star-with-neutral", Trip::thyristor_shorted));
  CHECK(plc.read("star-with-neutral", Point::output) == 0.0);
  CHECK(plc.read("star-with-neutral", Point::load_current_l2) > 13.0);  // all the same
  CHECK(plc.read("star-with-neutral", Point::load_current_l1) < 0.1);
  plc.io_coil("bank-io", 0, false);
  plc.run(1s);
  CHECK(plc.read("star-with-neutral", Point::load_current_l2) == 0.0);
}

TEST_CASE("a shorted leg of a two-leg unit heats with half the power at no command at all") {
  // R in series across two lines: 2R across V, V^2/(2R), half of V^2/R.
  Bank plc;
  plc.run(1s);
  plc.let("thyristor_shorted two-leg.l1");
  plc.run(2s);
  CHECK(plc.tripped_by("two-leg", Trip::thyristor_shorted));
  CHECK(plc.read("two-leg", Point::load_power) == doctest::Approx(5000.0).epsilon(0.02));
}

TEST_CASE("misfiring is recognised by power that stays behind and by direct current that comes and goes") {
  Bank plc;
  plc.command("star-with-neutral", 1.0);
  plc.run(3s);
  const double before = plc.read("star-with-neutral", Point::load_power_l3);
  plc.let("misfiring star-with-neutral.l3.backward share 40 %");
  double most = 0.0;
  double least = 1e9;
  for (int i = 0; i < 40; ++i) {
    plc.run(500ms);
    most = std::max(most, plc.read("star-with-neutral", Point::dc_current_l3));
    least = std::min(least, plc.read("star-with-neutral", Point::load_power_l3));
  }
  CHECK(most > 0.5);
  CHECK(least < 0.9 * before);
}

TEST_CASE("an open fuse is recognised by its own trip, after which its line carries nothing") {
  Bank plc;
  plc.command("star", 0.5);
  plc.run(2s);
  plc.let("fuse_open star.l3");
  plc.run(1s);
  CHECK(plc.tripped_by("star", Trip::fuse_open));
  CHECK(plc.read("star", Point::load_current_l3) < 0.05);
}

TEST_CASE("a fan that stands is recognised by a heat sink that goes on getting warmer") {
  Bank plc;
  plc.command("star", 1.0);
  plc.run(15min);
  const double with_fan = plc.read("star", Point::heatsink_temperature);
  CHECK(with_fan > 35.0);
  CHECK_FALSE(plc.warns("star", Warning::heatsink_warm));
  plc.let("fan_failed star");
  plc.run(60min);
  CHECK(plc.read("star", Point::heatsink_temperature) ==
        doctest::Approx(30.0 + 3.0 * (with_fan - 30.0)).epsilon(0.02));
}

TEST_CASE("lamps that are switched on cold without a soft start are recognised by the trip over-current") {
  Plc plc("cure-oven.yaml");
  for (std::uint16_t coil = 0; coil < 3; ++coil) plc.io_coil("oven-io", coil, true);
  plc.command("entry-bank", 0.8);
  plc.run(20s);
  CHECK(plc.read("entry-bank", Point::trips) == 0.0);  // soft start, ramp and limit carry it
  CHECK(plc.read("entry-bank", Point::element_temperature) > 1500.0);
  plc.write("entry-bank", Point::over_current_threshold, 0.5);  // of 40 A, which 80 % take
  plc.run(1s);
  CHECK(plc.tripped_by("entry-bank", Trip::over_current));
}
