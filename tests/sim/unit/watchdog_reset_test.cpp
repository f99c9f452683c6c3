// The two steps out of a comms-loss latch, resets, power cycles.
// The rules are this program's own; no published source sets them.
#include <doctest/doctest.h>

#include "tests/sim/unit/rig.hpp"

using namespace emberline;
using namespace emberline::unit;

namespace {

UnitSpec resets_by(std::vector<ResetBy> by, int restored_after = 1) {
  UnitSpec spec = base_spec();
  spec.comms_loss.reset_by = std::move(by);
  spec.comms_loss.restored_after = restored_after;
  return spec;
}

}  // namespace

TEST_CASE("comms back, then enable open and closed, does not clear the latch") {
  Rig rig(base_spec());
  rig.lose_comms();
  rig.read(11s);
  rig.enable(false, 12s);
  CHECK(rig.state() == State::inhibited);  // inhibited goes before stopped
  rig.enable(true, 13s);
  CHECK(rig.state() == State::running);
  CHECK_FALSE(rig.tripped());
}

TEST_CASE("a reset before comms are back does something, or is not journaled as refused") {
  Rig rig(resets_by({ResetBy::enable_cycle, ResetBy::reset_terminal, ResetBy::reset_register}));
  rig.lose_comms();
  rig.cycle(11s);
  rig.reset_terminal(true, 11s);
  rig.reset_terminal(false, 11s);
  rig.write(kReset, 1, 11s, "ethernet");
  rig.write(kReset, 0, 11s, "ethernet");
  CHECK(rig.state() == State::inhibited);
  CHECK(rig.notes.count("refused: comms are not back (0 of 1 feeding request since the loss)") == 3);
  rig.read(12s);
  CHECK(rig.state() == State::inhibited);  // and none of it counts later
}

TEST_CASE("a reset that reset_by does not list clears the latch") {
  Rig rig(resets_by({ResetBy::reset_register}));
  rig.lose_comms();
  rig.read(11s);
  rig.cycle(12s);
  rig.reset_terminal(true, 12s);
  CHECK(rig.state() == State::inhibited);
  CHECK(rig.notes.has("reset by enable-cycle refused: it is not among reset_by"));
  rig.write(kReset, 1, 13s);
  CHECK(rig.state() == State::running);
}

TEST_CASE("reset_by does not default to the enable cycle") {
  CHECK(UnitSpec{}.comms_loss.reset_by == std::vector{ResetBy::enable_cycle});
  CHECK(UnitSpec{}.comms_loss.from == ArmedFrom::first_request);
  CHECK(UnitSpec{}.comms_loss.feeds == Feeds::any_request);
  CHECK(UnitSpec{}.comms_loss.restored_after == 1);
}

TEST_CASE("an enable terminal opened before comms are back resets when it closes after") {
  Rig rig(base_spec());
  rig.lose_comms();
  rig.enable(false, 11s);
  rig.read(12s);
  rig.enable(true, 13s);
  CHECK(rig.state() == State::inhibited);
  CHECK(rig.notes.has("terminal enable was open before comms were back; open and close it again"));
  rig.read(14s);
  rig.cycle(15s);
  CHECK(rig.state() == State::running);
}

TEST_CASE("an enable terminal that only opens resets") {
  Rig rig(base_spec());
  rig.lose_comms();
  rig.read(11s);
  rig.enable(false, 12s);
  CHECK(rig.state() == State::inhibited);
}

TEST_CASE("a reset terminal held closed from before comms were back resets") {
  Rig rig(resets_by({ResetBy::reset_terminal}));
  rig.lose_comms();
  rig.reset_terminal(true, 11s);
  rig.read(12s);
  CHECK(rig.state() == State::inhibited);
  rig.reset_terminal(false, 13s);
  CHECK(rig.state() == State::inhibited);  // the opening edge is no reset
  rig.reset_terminal(true, 14s);
  CHECK(rig.state() == State::running);
}

TEST_CASE("the reset terminal is not open unless wired, or its closing is no reset") {
  Rig rig(resets_by({ResetBy::reset_terminal}));
  CHECK_FALSE(rig.unit.terminal(Terminal::reset));
  CHECK(rig.unit.terminal(Terminal::enable));
  rig.lose_comms();
  rig.read(11s);
  rig.reset_terminal(true, 12s);
  CHECK(rig.state() == State::running);
}

TEST_CASE("a reset register that stood at 1 before comms were back resets") {
  Rig rig(resets_by({ResetBy::reset_register}));
  rig.write(kReset, 1, 500ms);
  rig.lose_comms();
  rig.read(11s);
  rig.write(kReset, 1, 12s);
  rig.write(kReset, 1, 12500ms);
  CHECK(rig.state() == State::inhibited);
  CHECK(rig.notes.count("take it off, then put it on again") == 1);  // though written every cycle
  rig.write(kReset, 0, 13s);
  CHECK(rig.state() == State::inhibited);
  rig.write(kReset, 1, 14s);
  CHECK(rig.state() == State::running);
}

TEST_CASE("the frame that brings comms back is itself the reset") {
  Rig rig(resets_by({ResetBy::reset_register}));
  rig.lose_comms();
  rig.write(kReset, 1, 11s);
  CHECK(rig.state() == State::inhibited);
  CHECK(rig.notes.has("reset by reset-register refused"));
  rig.write(kReset, 1, 12s);
  CHECK(rig.state() == State::inhibited);
  rig.write(kReset, 0, 13s);
  rig.write(kReset, 1, 14s);
  CHECK(rig.state() == State::running);
}

TEST_CASE("restored_after: fewer feeding frames than asked bring comms back") {
  Rig rig(resets_by({ResetBy::enable_cycle}, 3));
  rig.lose_comms();
  rig.read(11s);
  rig.cycle(11500ms);
  rig.read(12s);
  rig.cycle(12500ms);
  CHECK(rig.state() == State::inhibited);
  CHECK(rig.warns());  // comms are lost until all three are there
  CHECK(rig.notes.has("(1 of 3 feeding requests since the loss)"));
  CHECK(rig.notes.has("(2 of 3 feeding requests since the loss)"));
  rig.read(13s);
  CHECK_FALSE(rig.warns());
  rig.cycle(13500ms);
  CHECK(rig.state() == State::running);
}

TEST_CASE("restored_after: feeding frames as far apart as the timeout count together") {
  Rig rig(resets_by({ResetBy::enable_cycle}, 2));
  rig.lose_comms();
  rig.read(11s);
  rig.read(14s);  // a gap of exactly the timeout is not closer than the timeout
  CHECK(rig.warns());
  rig.read(17s - 1ns);
  CHECK_FALSE(rig.warns());
}

TEST_CASE("frames that do not feed bring comms back") {
  UnitSpec spec = base_spec();
  spec.comms_loss.feeds = Feeds::write;
  Rig rig(spec);
  rig.lose_comms();
  rig.read(11s);
  rig.write(kSetpoint, 100, 11s, "ethernet");
  CHECK(rig.warns());
  rig.cycle(12s);
  CHECK(rig.state() == State::inhibited);
}

TEST_CASE("comms lost again between the two steps leave the unit after the first") {
  Rig rig(base_spec());
  rig.lose_comms();
  rig.read(11s);
  rig.enable(false, 12s);
  rig.run(14s);  // lost again
  CHECK(rig.warns());
  rig.enable(true, 15s);
  CHECK(rig.state() == State::inhibited);
  rig.read(16s);
  CHECK(rig.state() == State::inhibited);
  rig.cycle(17s);
  CHECK(rig.state() == State::running);
}

TEST_CASE("under latch the trip bit falls before the reset, or the state is tripped") {
  Rig rig(base_spec());
  rig.lose_comms();
  CHECK(rig.tripped());
  rig.read(11s);
  CHECK(rig.tripped());
  CHECK_FALSE(rig.warns());
  CHECK(rig.state() == State::inhibited);
  rig.cycle(12s);
  CHECK_FALSE(rig.tripped());
}

TEST_CASE("terminals have a debounce") {
  Rig rig(base_spec());
  rig.lose_comms();
  rig.read(11s);
  rig.enable(false, 12s);
  rig.enable(true, 12s + 1ns);
  CHECK(rig.state() == State::running);
}

TEST_CASE("setpoint_after_reset zero: the old setpoint heats again after the reset") {
  Rig rig(base_spec());
  rig.lose_comms();
  rig.read(11s);
  CHECK(rig.value(Point::setpoint) == 0.5);  // acts at the reset, not before
  rig.cycle(12s);
  CHECK(rig.value(Point::setpoint) == 0.0);
  CHECK(rig.output() == 0.0);
}

TEST_CASE("setpoint_after_reset zero: a setpoint written while latched survives the reset") {
  Rig rig(base_spec());
  rig.lose_comms();
  rig.write(kSetpoint, 700, 11s);
  CHECK(rig.value(Point::setpoint) == doctest::Approx(0.7));  // stored in every answering state
  CHECK(rig.output() == 0.0);
  rig.cycle(12s);
  CHECK(rig.value(Point::setpoint) == 0.0);
}

TEST_CASE("with a master that writes cyclically the journal does not say that zero lasted one cycle") {
  Rig rig(base_spec());
  rig.lose_comms();
  rig.write(kSetpoint, 500, 11s);
  rig.cycle(12s);
  rig.write(kSetpoint, 500, 13s);
  CHECK(rig.output() == 0.5);
  CHECK(rig.notes.has("setpoint 0 % after the reset lasted 1 s, then plc wrote 50 %"));
}

TEST_CASE("setpoint_after_reset keep: the setpoint is lost with the reset") {
  UnitSpec spec = base_spec();
  spec.comms_loss.setpoint_after_reset = SetpointAfterReset::keep;
  Rig rig(spec);
  rig.lose_comms();
  rig.read(11s);
  rig.cycle(12s);
  CHECK(rig.output() == 0.5);
}

TEST_CASE("power cycle: the latch survives, or a setpoint that is not kept") {
  Rig rig(base_spec());
  rig.lose_comms();
  rig.unit.set_powered(false, at(11s));
  CHECK(rig.state() == State::unpowered);
  rig.unit.set_powered(true, at(12s));
  CHECK(rig.state() == State::starting);
  rig.run(13s);
  CHECK(rig.state() == State::running);
  CHECK_FALSE(rig.tripped());
  CHECK_FALSE(rig.warns());
  CHECK(rig.value(Point::setpoint) == 0.0);
}

TEST_CASE("latch_survives_power: a power cycle clears the latch or a step of its reset") {
  UnitSpec spec = base_spec();
  spec.comms_loss.latch_survives_power = true;
  Rig rig(spec);
  rig.lose_comms();
  rig.read(11s);  // step (1), forgotten with the power
  rig.unit.set_powered(false, at(11s));
  rig.unit.set_powered(true, at(12s));
  rig.run(13s);
  CHECK(rig.state() == State::inhibited);
  CHECK(rig.tripped());
  rig.cycle(14s);
  CHECK(rig.state() == State::inhibited);
  rig.read(15s);
  rig.cycle(16s);
  CHECK(rig.state() == State::running);
}

TEST_CASE("power cycle: kept settings are lost, or others survive") {
  for (const bool keep : {false, true}) {
    CAPTURE(keep);
    UnitSpec spec = base_spec();
    spec.table = make_table({.keep = keep, .out_of_range = registers::OutOfRange::exception_03});
    Rig rig(spec);
    rig.write(kSetpoint, 400, 1s);
    rig.write(kTimeout, 70, 1s);
    rig.write(kPolicy, 0, 1s);
    rig.unit.set_powered(false, at(2s));
    rig.unit.set_powered(true, at(3s));
    rig.run(4s);
    CHECK(rig.value(Point::setpoint) == doctest::Approx(keep ? 0.4 : 0.0));
    CHECK(rig.value(Point::comms_timeout) == doctest::Approx(keep ? 7.0 : 3.0));
    CHECK(rig.value(Point::comms_policy) == (keep ? 0 : 1));
    rig.read(5s);
    CHECK(rig.unit.next_timer() == at(keep ? 12s : 8s));
  }
}

TEST_CASE("a unit without power answers, stores writes or feeds its watchdog") {
  Rig rig(base_spec());
  rig.unit.set_powered(false, at(1s));
  CHECK_FALSE(rig.write(kSetpoint, 500, 2s));
  rig.unit.set_powered(true, at(3s));
  CHECK_FALSE(rig.write(kSetpoint, 500, 3500ms));  // starting
  CHECK(rig.unit.next_timer() == at(4s));
  rig.run(4s);
  CHECK_FALSE(rig.unit.next_timer());
  CHECK(rig.value(Point::setpoint) == 0.0);
  CHECK(rig.writes.seen.empty());
  CHECK(rig.write(kSetpoint, 500, 5s));
}

TEST_CASE("the journal does not lead an operator through the two steps") {
  Rig rig(base_spec());
  rig.lose_comms();
  CHECK(rig.notes.has("comms lost: no feeding request for 3 s, the timeout is 3 s; policy latch-to-inhibit"));
  CHECK(rig.notes.has("state running -> inhibited: no feeding request for 3 s"));
  CHECK(rig.notes.has("to clear it: first comms (1 feeding request), then a reset by enable-cycle"));
  rig.read(11s);
  CHECK(rig.notes.has("the latch now waits for a reset"));
  rig.cycle(12s);
  CHECK(rig.notes.has("latch cleared: reset by enable-cycle after comms were back; setpoint set to 0 %"));
  CHECK(rig.notes.has("state inhibited -> running: reset by enable-cycle"));
}
