#include <string>

#include <doctest/doctest.h>

#include "sim/rehearsal/stand_in.hpp"
#include "tests/sim/rehearsal/stand_in_rig.hpp"

namespace emberline::rehearsal {
namespace {

using namespace stand_in_rig;

ProgramStep phased(Duration period, Duration phase, std::vector<Target> targets) {
  ProgramStep step = read_every(period, std::move(targets));
  step.phase = phase;
  return step;
}

}  // namespace

TEST_CASE("a step with a phase is first due so long after the beginning, then at whole periods from there") {
  const auto link = played(plc({phased(2s, 500ms, {kCurrent}), phased(2s, 0s, {kOther})}), 5s, always);
  CHECK(link.did == Lines{"0 field 2 holding 64+1", "0.5 field 1 holding 64+1", "2 field 2 holding 64+1",
                          "2.5 field 1 holding 64+1", "4 field 2 holding 64+1", "4.5 field 1 holding 64+1"});
}

TEST_CASE("a step that was held up goes on at its own phase, and makes up for what it missed once") {
  // Nobody answers the first: it takes the time-out of 500 ms. What fell due at 0.4 s is made at 0.6 s.
  const auto link = played(plc({phased(300ms, 100ms, {kCurrent})}), 1200ms, silent_between(0s, 200ms));
  CHECK(link.did == Lines{"0.1 field 1 holding 64+1", "0.6 field 1 holding 64+1", "0.7 field 1 holding 64+1",
                          "1 field 1 holding 64+1"});
}

TEST_CASE("a state's phases count from when it was entered") {
  MasterSpec master = plc({});
  master.program.clear();
  MasterState first{"first", {}, {}, {go_after(1, 700ms)}};
  MasterState second{"second", {}, {phased(1s, 200ms, {kCurrent})}, {}};
  master.states = {first, second};
  const auto link = played(master, 2s, always);
  CHECK(link.did == Lines{"0.9 field 1 holding 64+1", "1.9 field 1 holding 64+1"});
}

TEST_CASE("a step that states its block asks for that block, and finds its values in it") {
  const Target far = unit_register(0, "heater.trips", 70);
  ProgramStep block = phased(1s, 0s, {far, kCurrent});  // 70 and 64, not side by side
  block.block = modbus::AddressRange{60, 12};
  ProgramStep sees = write_every(1s, {{kSetpoint, 0.25}});
  sees.when = when_above(far, 0.5);
  std::vector<std::uint16_t> words(12, 0);
  words[10] = 900;  // register 70
  const auto link = played(plc({block, sees}), 1500ms, [&](const std::string&, SimTime) {
    Answer answer;
    answer.words = words;
    return answer;
  });
  CHECK(link.did == Lines{"0 field 1 holding 60+12", "0.01 field 1 write 48 = 250", "1 field 1 holding 60+12",
                          "1.01 field 1 write 48 = 250"});
}

}  // namespace emberline::rehearsal
