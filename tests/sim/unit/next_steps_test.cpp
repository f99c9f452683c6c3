// What a unit says has to happen until it delivers again: the steps are right, in order, and lead there.
// The rules are this program's own; no published source sets them.
#include <doctest/doctest.h>

#include "tests/sim/unit/plant_rig.hpp"

using namespace emberline;
using namespace emberline::unit;
using registers::Trip;

namespace {

/// The steps as text, "x " before those done.
std::vector<std::string> steps(const VirtualUnit& unit, Duration when) {
  std::vector<std::string> lines;
  for (const auto& step : unit.next_steps(at(when))) lines.push_back((step.done ? "x " : "- ") + step.text);
  return lines;
}

using Lines = std::vector<std::string>;

}  // namespace

TEST_CASE("the way out of a comms-loss latch is not told in its two steps, or no step is ticked off") {
  UnitSpec spec = base_spec();
  spec.comms_loss.restored_after = 2;
  spec.comms_loss.reset_by = {ResetBy::enable_cycle, ResetBy::reset_register};
  Rig rig(spec);
  rig.lose_comms();
  const std::string reset =
      "- Then reset the latch: open terminal enable, then close it, or write 0, then 1 to the "
      "reset register";
  CHECK(steps(rig.unit, 10s) ==
        Lines{"- Bring comms back first: 0 of 2 feeding requests since the loss", reset});
  rig.read(11s);
  CHECK(steps(rig.unit, 11s) ==
        Lines{"- Bring comms back first: 1 of 2 feeding requests since the loss", reset});
  rig.read(12s);
  CHECK(steps(rig.unit, 12s) ==
        Lines{"x Bring comms back first: 2 of 2 feeding requests since the loss", reset});
  rig.cycle(13s);
  CHECK(steps(rig.unit, 13s) == Lines{"- Write a setpoint: the reset has set it to 0 %"});
  rig.write(kSetpoint, 500, 13s);
  CHECK(steps(rig.unit, 13s).empty());
  CHECK(rig.output() == 0.5);
}

TEST_CASE("holding and preset do not say what ends them") {
  UnitSpec spec = base_spec();
  spec.comms_loss.policy = Policy::hold_last_command;
  Rig holds(spec);
  holds.write(kSetpoint, 500, 1s);
  holds.run(5s);
  CHECK(steps(holds.unit, 5s) ==
        Lines{"- Bring comms back: a feeding request ends the hold; until then it heats blind"});
  holds.read(6s);
  CHECK(steps(holds.unit, 6s).empty());

  spec.comms_loss.policy = Policy::go_to_preset;
  spec.comms_loss.preset = 0.2;
  Rig preset(spec);
  preset.write(kSetpoint, 500, 1s);
  preset.run(5s);
  CHECK(steps(preset.unit, 5s) == Lines{"- Bring comms back: a feeding request ends the loss",
                                        "- Write a setpoint: until then the output stays at the preset"});
  preset.read(6s);
  CHECK(steps(preset.unit, 6s) == Lines{"- Write a setpoint: until then the output stays at the preset"});
  preset.write(kSetpoint, 500, 7s);
  CHECK(steps(preset.unit, 7s).empty());
}

TEST_CASE("what keeps a unit off besides its latches is not said") {
  Rig rig(base_spec());
  CHECK(steps(rig.unit, 1s) == Lines{"- Write a setpoint: it is at 0 %"});
  rig.write(kSource, 1, 1s);
  CHECK(steps(rig.unit, 1s) == Lines{"- Turn the local setpoint up: it is at 0 %"});
  rig.write(kSource, 0, 1s);
  rig.write(kSetpoint, 500, 1s);
  rig.enable(false, 2s);
  CHECK(steps(rig.unit, 2s) == Lines{"- Close terminal enable"});
  rig.enable(true, 2s);
  rig.unit.set_powered(false, at(2s));
  CHECK(steps(rig.unit, 2s) == Lines{"- Switch the unit's control supply on"});
  rig.unit.set_powered(true, at(2s));
  CHECK(steps(rig.unit, 2s) == Lines{"- Wait: it starts up for another 1 s"});
}

TEST_CASE("a trip does not say its cause first and its reset then") {
  UnitSpec spec = plant_spec();
  of(spec, Protection::heatsink_over_temperature).reset_by = {ResetBy::reset_terminal};
  PlantRig rig(spec);
  rig.measured.heatsink_degC = 120.0;
  rig.go(1s);
  REQUIRE(rig.trips(Trip::heatsink_over_temperature));
  const std::string reset =
      "- Then reset the trip heatsink-over-temperature: close terminal reset (open it first if "
      "it is closed)";
  CHECK(steps(rig.unit, rig.now) == Lines{"- Take away what made it trip: heatsink-over-temperature", reset});
  rig.measured.heatsink_degC = 40.0;
  rig.go(20ms);
  CHECK(steps(rig.unit, rig.now) == Lines{"x Take away what made it trip: heatsink-over-temperature", reset});
  rig.reset_terminal(true, rig.now);
  CHECK_FALSE(rig.trips(Trip::heatsink_over_temperature));
}

TEST_CASE("two latches ask for a reset before both causes have gone, or for one each where one does both") {
  UnitSpec spec = plant_spec();
  spec.comms_loss.timeout = 3s;
  spec.comms_loss.policy = Policy::latch_to_inhibit;
  of(spec, Protection::heatsink_over_temperature).reset_by = {ResetBy::enable_cycle};
  spec.comms_loss.reset_by = {ResetBy::enable_cycle};
  PlantRig rig(spec);
  rig.write(kSetpoint, 500, rig.now);
  rig.measured.heatsink_degC = 120.0;
  rig.go(5s);
  CHECK(steps(rig.unit, rig.now) == Lines{"- Take away what made it trip: heatsink-over-temperature",
                                          "- Bring comms back first: 0 of 1 feeding request since the loss",
                                          "- Then reset the trip heatsink-over-temperature and the latch: "
                                          "open terminal enable, then close it"});
}

TEST_CASE("a unit without supply asks for a reset instead of the supply") {
  PlantRig rig(plant_spec());
  rig.contactor = false;
  rig.go(1s);
  const auto told = steps(rig.unit, rig.now);
  REQUIRE_FALSE(told.empty());
  CHECK(told[0] == "- Bring the supply back: the contactor is open, or the mains is gone");
}
