// Faults of loads, zones and sensors: the sign by which a program that only reads registers recognises each.
#include <cmath>

#include <doctest/doctest.h>

#include "tests/signs/plc.hpp"

using namespace emberline;
using namespace emberline::test;
using registers::Point;
using registers::Trip;
using registers::Warning;

TEST_CASE("an element that burns out is recognised by partial-load-failure and a lower load_intact") {
  // One of two parallel elements open: half the conductance is left in that leg.
  Bank plc;
  plc.command("star", 0.4);
  plc.run(5s);
  CHECK(plc.read("star", Point::load_intact) == doctest::Approx(1.0).epsilon(0.002));
  plc.let("element_open star.l1");
  plc.run(5s);
  CHECK(plc.warns("star", Warning::partial_load_failure));
  CHECK_FALSE(plc.warns("star", Warning::load_open));
  CHECK(plc.read("star", Point::load_intact) == doctest::Approx(0.5).epsilon(0.01));
  CHECK(plc.read("star", Point::load_power) ==
        doctest::Approx(4000.0).epsilon(0.01));  // still what was asked
  const double ratio = plc.read("star", Point::load_current_l1) / plc.read("star", Point::load_current_l2);
  CHECK(ratio < 0.85);
  plc.let("mend star.l1");
  plc.run(5s);
  CHECK_FALSE(plc.warns("star", Warning::partial_load_failure));
}

TEST_CASE("an open leg is recognised by load-open, and with a neutral by the current that comes back in it") {
  // Star with neutral, one leg open: the neutral carries one phase current.
  Bank plc;
  plc.command("star-with-neutral", 1.0);
  plc.run(5s);
  CHECK(plc.read("star-with-neutral", Point::neutral_current) < 0.1);
  plc.let("leg_open star-with-neutral.l3");
  plc.run(5s);
  CHECK(plc.warns("star-with-neutral", Warning::load_open));
  CHECK(plc.read("star-with-neutral", Point::load_current_l3) < 0.05);
  CHECK(plc.read("star-with-neutral", Point::neutral_current) ==
        doctest::Approx(plc.read("star-with-neutral", Point::load_current_l1)).epsilon(0.01));
}

TEST_CASE(
    "elements that age are recognised by the resistance, and by current control that needs more voltage") {
  Bank plc;
  plc.command("star-with-neutral", 0.5);
  plc.run(5s);
  const double before = plc.read("star-with-neutral", Point::load_resistance);
  plc.let("ageing star-with-neutral to 120 %");
  plc.run(2s);
  CHECK(plc.read("star-with-neutral", Point::load_resistance) ==
        doctest::Approx(1.2 * before).epsilon(0.005));
}

TEST_CASE("the supervision forgets an aged load when it is told to learn it anew") {
  Bank plc;
  plc.command("star-with-neutral", 0.5);
  plc.run(5s);
  plc.let("ageing star-with-neutral to 130 %");
  plc.run(5s);
  CHECK(plc.warns("star-with-neutral", Warning::partial_load_failure));
  plc.write("star-with-neutral", Point::learn_load, 1.0);
  plc.run(5s);
  CHECK_FALSE(plc.warns("star-with-neutral", Warning::partial_load_failure));
  CHECK(plc.read("star-with-neutral", Point::load_intact) == doctest::Approx(1.0).epsilon(0.002));
}

TEST_CASE("a broken sensor is recognised by the stated value and by sensor-fault") {
  Plc plc("crucible-kiln.yaml");
  plc.run(1s);
  CHECK(plc.io_input("kiln-io", 0) == 25);
  plc.let("sensor_broken chamber");
  plc.run(1s);
  CHECK(plc.io_input("kiln-io", 0) == 3000);
  CHECK(plc.warns("kiln-heater", Warning::sensor_fault));
  plc.let("mend chamber");
  plc.run(1s);
  CHECK(plc.io_input("kiln-io", 0) == 25);
}

TEST_CASE("a sensor that shows too much is recognised by nothing but a second opinion") {
  Plc plc("crucible-kiln.yaml");
  plc.run(1s);
  plc.let("sensor_offset chamber by 40 K");
  plc.run(1s);
  CHECK(plc.io_input("kiln-io", 0) == 65);
  CHECK_FALSE(plc.warns("kiln-heater", Warning::sensor_fault));
  CHECK(plc.read("kiln-heater", Point::element_temperature) == 25.0);
}

TEST_CASE("a cut-out that acts is recognised by its contact, and stays until it is reset by hand") {
  Plc plc("water-heater.yaml");
  plc.io_coil("tank-io", 0, true);
  plc.io_coil("tank-io", 1, true);
  plc.command("water-heater", 1.0);
  const auto acted = [&plc] { return plc.io_discrete("tank-io", 2); };
  for (int minute = 0; minute < 150 && !acted(); ++minute) plc.run(1min);  // 6 kW into 80 kg, nobody watching
  CHECK(acted());
  CHECK(plc.warns("water-heater", Warning::supply_absent));
  CHECK(plc.journal_says("excess-temperature cut-out acts"));
  plc.let("reset_cut_out tank");
  plc.run(10s);
  CHECK(plc.journal_says("reset refused"));
}
