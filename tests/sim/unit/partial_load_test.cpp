// Partial-load supervision: what one of n equal elements in parallel does to the conductance of its leg is
// (n - 1)/n, by Ohm's and Kirchhoff's laws.
#include <doctest/doctest.h>

#include "tests/sim/unit/plant_rig.hpp"

using namespace emberline;
using namespace emberline::unit;
using registers::Warning;

namespace {

bool failed(const PlantRig& rig) { return rig.warned(Warning::partial_load_failure); }

}  // namespace

TEST_CASE("the load is not learned on the first run, or before it was steady for 2 s") {
  PlantRig rig(plant_spec());
  rig.go(10s);
  CHECK(rig.value(Point::load_intact) == 1.0);
  CHECK_FALSE(rig.unit.unsettled());
  rig.set(500);
  const Duration begun = rig.now + PlantRig::kCycle;  // the end of the first fired cycle
  const auto learned = rig.until([&] { return rig.notes.has("load learned: 5 ohm, 5 ohm, 5 ohm"); });
  CHECK(learned == begun + 2s);
  CHECK_FALSE(rig.unit.unsettled());
}

TEST_CASE("one of six elements open is no partial-load failure, or is one before its delay") {
  for (const auto mode : {FiringMode::phase_angle, FiringMode::burst_spread}) {
    UnitSpec spec = plant_spec();
    spec.firing.mode = mode;
    PlantRig rig(spec);
    rig.set(500);
    rig.go(5s);
    rig.leg_S[1] = 0.2 * 5.0 / 6.0;
    const Duration since = rig.now;
    const auto found = rig.until([&] { return failed(rig); });
    REQUIRE(found.has_value());
    CHECK(*found >= since + 2s);
    CHECK(*found <= since + 2s + 4 * PlantRig::kCycle);
    CHECK(rig.value(Point::load_intact) == doctest::Approx(5.0 / 6.0));
    CHECK(rig.notes.has("warning partial-load-failure: leg l2 conducts 83.33 % of what was learned"));
    CHECK_FALSE(rig.warned(Warning::load_open));
    rig.leg_S[1] = 0.2 * 0.87;  // within the hysteresis
    rig.go(1s);
    CHECK(failed(rig));
    rig.leg_S[1] = 0.2;
    rig.go(100ms);
    CHECK_FALSE(failed(rig));
    CHECK(rig.value(Point::load_intact) == doctest::Approx(1.0));
  }
}

TEST_CASE("supply voltage, firing angle or a pause is taken for a change of the load") {
  PlantRig rig(plant_spec());
  rig.set(500);
  rig.go(5s);
  for (const int setpoint : {50, 1000, 0, 20, 5, 300}) {
    rig.set(setpoint);
    rig.supply_V = {210.0, 225.0, 250.0};
    rig.go(5s);
    CHECK(rig.value(Point::load_intact) == doctest::Approx(1.0));
    CHECK_FALSE(failed(rig));
  }
}

TEST_CASE("a reference is learned from an open leg, or from a filament that heats up") {
  PlantRig rig(plant_spec());
  rig.leg_S[2] = 0.0;
  rig.set(500);
  rig.go(10s);
  CHECK_FALSE(rig.notes.has("load learned"));
  CHECK_FALSE(failed(rig));
  rig.leg_S[2] = 0.4;
  for (int i = 0; i < 500; ++i) {  // 3 % less in 2 s, for 10 s
    rig.leg_S[2] *= std::pow(0.97, 0.01);
    rig.step();
  }
  CHECK_FALSE(rig.notes.has("load learned"));
  CHECK(rig.unit.unsettled());
  rig.go(3s);
  CHECK(rig.notes.has("load learned"));
}

TEST_CASE("a command does not let the load be learned anew, or drops the old reference before") {
  UnitSpec spec = plant_spec();
  spec.learn_on = LearnOn::command;
  PlantRig rig(spec);
  rig.set(500);
  rig.go(10s);
  CHECK_FALSE(rig.notes.has("load learned"));
  rig.leg_S = {0.1, 0.1, 0.1};
  CHECK(rig.write(kLearn, 1, rig.now) == Rig::write_pdu(kLearn, 1));
  CHECK(rig.value(Point::learn_load) == 1.0);
  CHECK(rig.notes.has("told by plc to learn its load: 2 s of steady firing make the reference"));
  rig.go(3s);
  CHECK(rig.notes.has("load learned: 10 ohm, 10 ohm, 10 ohm"));
  rig.leg_S = {0.2, 0.2, 0.05};
  rig.go(3s);
  CHECK(rig.value(Point::load_intact) == doctest::Approx(0.5));
  CHECK(failed(rig));
  rig.write(kLearn, 1, rig.now);  // still 1: no edge
  rig.go(5s);
  CHECK(failed(rig));
  rig.set(0);
  rig.unit.learn_load(at(rig.now));
  rig.go(5s);
  CHECK(failed(rig));  // nothing was fired
  rig.set(500);
  rig.go(3s);
  CHECK_FALSE(failed(rig));
  CHECK(rig.notes.has("load learned: 5 ohm, 5 ohm, 20 ohm"));
}

TEST_CASE("a reference does not survive a power cycle, or one that was given is learned over") {
  UnitSpec spec = plant_spec();
  spec.load_reference_S = {0.25, 0.2, 0.2};
  PlantRig rig(spec);
  rig.set(500);
  rig.go(5s);
  CHECK_FALSE(rig.notes.has("load learned"));
  CHECK(rig.value(Point::load_intact) == doctest::Approx(0.8));
  CHECK(failed(rig));
  PlantRig learned(plant_spec());
  learned.set(500);
  learned.go(5s);
  learned.unit.set_powered(false, at(learned.now));
  learned.leg_S[0] = 0.1;
  learned.unit.set_powered(true, at(learned.now));
  learned.go(2s);
  learned.set(500);
  learned.go(4s);
  CHECK(learned.value(Point::load_intact) == doctest::Approx(0.5));
  CHECK(failed(learned));
  CHECK(learned.notes.count("load learned") == 1);
}

TEST_CASE("threshold and hysteresis of partial-load-failure cannot be written") {
  UnitSpec spec = plant_spec();
  spec.table = make_table({.keep = true, .out_of_range = registers::OutOfRange::exception_03});
  PlantRig rig(spec);
  rig.set(500);
  rig.go(5s);
  rig.leg_S[1] = 0.2 * 0.9;
  rig.go(5s);
  CHECK_FALSE(failed(rig));
  rig.write(kPartialThreshold, 950, rig.now);
  rig.go(3s);
  CHECK(failed(rig));
  rig.unit.set_powered(false, at(rig.now));  // the table keeps it
  rig.unit.set_powered(true, at(rig.now));
  CHECK(rig.value(Point::partial_load_failure_threshold) == doctest::Approx(0.95));
  CHECK(rig.value(Point::phase_lost_threshold) == doctest::Approx(0.65));
}

TEST_CASE("a load is learned, or found damaged, that nobody asked to supervise") {
  for (const bool given : {false, true}) {
    UnitSpec spec = plant_spec();
    of(spec, Protection::partial_load_failure).on = false;
    if (given) spec.load_reference_S = {0.4};
    PlantRig rig(spec);
    rig.set(500);
    rig.step();
    CHECK_FALSE(rig.unit.unsettled());
    rig.go(5s);
    rig.leg_S[1] = 0.1;
    rig.go(5s);
    CHECK(rig.value(Point::load_intact) == 1.0);
    rig.unit.learn_load(at(rig.now));
    rig.go(5s);
    CHECK(rig.value(Point::load_intact) == 1.0);
    CHECK_FALSE(rig.notes.has("load learned"));
    CHECK(
        rig.notes.has("told by the operator to learn its load; partial-load-failure is off, so it does not"));
  }
}
