// What the comms-loss watchdog promises, one case a promise: supervision, feeding, arming, policies.
// The rules are this program's own; no published source sets them.
#include <doctest/doctest.h>

#include "tests/sim/unit/rig.hpp"

using namespace emberline;
using namespace emberline::unit;

namespace {

UnitSpec with_policy(Policy policy) {
  UnitSpec spec = base_spec();
  spec.comms_loss.policy = policy;
  spec.comms_loss.preset = 0.2;
  return spec;
}

UnitSpec with_feeds(Feeds feeds) {
  UnitSpec spec = base_spec();
  spec.comms_loss.feeds = feeds;
  return spec;
}

}  // namespace

TEST_CASE("timeout 0 supervises after all") {
  UnitSpec spec = base_spec();
  spec.comms_loss.timeout = 0s;
  Rig rig(spec);
  rig.write(kSetpoint, 500, 1s);
  CHECK_FALSE(rig.unit.next_timer());
  rig.run(1000h);
  CHECK(rig.state() == State::running);
  CHECK(rig.output() == 0.5);
  CHECK_FALSE(rig.warns());
}

TEST_CASE("the watchdog does not restart when a feeding frame is taken up") {
  Rig rig(base_spec());
  for (int i = 0; i < 10; ++i) {
    rig.read(i * 2900ms);
    CHECK(rig.unit.next_timer() == at(i * 2900ms + 3s));
  }
  rig.run(9 * 2900ms + 2999ms);
  CHECK(rig.state() == State::running);
  rig.run(9 * 2900ms + 3s);
  CHECK(rig.state() == State::inhibited);
}

TEST_CASE("which requests feed is not what `feeds` says") {
  struct Case {
    const char* what;
    modbus::Bytes pdu;
    bool broadcast;
    bool any, good, write, heartbeat;
  };
  const Case cases[] = {
      {"a good read", Rig::read_pdu(kState), false, true, true, false, false},
      {"a read answered with 02", Rig::read_pdu(kNowhere), false, true, false, false, false},
      {"a function code nobody knows", {0x41}, false, true, false, false, false},
      {"a malformed read", {3, 0, 0, 0, 0}, false, true, false, false, false},
      {"an accepted setpoint write", Rig::write_pdu(kSetpoint, 100), false, true, true, true, false},
      {"a setpoint write out of range", Rig::write_pdu(kSetpoint, 2000), false, true, false, false, false},
      {"a write to a read-only register", Rig::write_pdu(kState, 1), false, true, false, false, false},
      {"a broadcast setpoint write", Rig::write_pdu(kSetpoint, 100), true, true, true, true, false},
      {"a broadcast write out of range", Rig::write_pdu(kSetpoint, 2000), true, true, false, false, false},
      {"a broadcast read, which is not processed", Rig::read_pdu(kState), true, false, false, false, false},
      {"the heartbeat's first write", Rig::write_pdu(kHeartbeat, 0), false, true, true, true, true},
      {"a request without a function code", {}, false, false, false, false, false},
  };
  for (const auto& one : cases) {
    CAPTURE(one.what);
    const std::pair<Feeds, bool> expected[] = {{Feeds::any_request, one.any},
                                               {Feeds::good_request, one.good},
                                               {Feeds::write, one.write},
                                               {Feeds::heartbeat, one.heartbeat}};
    for (const auto& [feeds, fed] : expected) {
      CAPTURE(static_cast<int>(feeds));
      Rig rig(with_feeds(feeds));
      rig.send(one.pdu, 1s, "field", "plc", one.broadcast);
      // Armed by the first feeding frame: a timer runs exactly if the frame fed.
      CHECK(rig.unit.next_timer().has_value() == fed);
    }
  }
}

TEST_CASE("a write whose value is ignored counts as accepted") {
  UnitSpec spec = with_feeds(Feeds::write);
  spec.table = make_table({.keep = false, .out_of_range = registers::OutOfRange::ignore});
  Rig rig(spec);
  const auto answer = rig.write(kSetpoint, 2000, 1s);
  REQUIRE(answer);
  CHECK_FALSE(modbus::refusal_of(*answer));
  CHECK_FALSE(rig.unit.next_timer());
  REQUIRE(rig.writes.seen.size() == 1);
  CHECK_FALSE(rig.writes.seen[0].accepted);
}

TEST_CASE("a heartbeat that stands still feeds") {
  Rig rig(with_feeds(Feeds::heartbeat));
  rig.write(kHeartbeat, 7, 1s);
  CHECK(rig.unit.next_timer() == at(4s));  // its first write counts
  rig.write(kHeartbeat, 7, 2s);
  CHECK(rig.unit.next_timer() == at(4s));
  rig.write(kHeartbeat, 8, 3s);
  CHECK(rig.unit.next_timer() == at(6s));
  rig.write(kSetpoint, 100, 4s);  // another point is no heartbeat
  CHECK(rig.unit.next_timer() == at(6s));
}

TEST_CASE("the heartbeat's first write after a power cycle does not count") {
  Rig rig(with_feeds(Feeds::heartbeat));
  rig.write(kHeartbeat, 0, 1s);
  rig.unit.set_powered(false, at(2s));
  rig.unit.set_powered(true, at(3s));
  rig.run(4s);
  rig.write(kHeartbeat, 0, 5s);
  CHECK(rig.unit.next_timer() == at(8s));
}

TEST_CASE("a request dropped by intake limits feeds") {
  UnitSpec spec = base_spec();
  spec.intake = {.largest_block = 4, .reads_per_second = 1, .beyond = Beyond::exception};
  Rig rig(spec);
  rig.read(1s);
  CHECK(rig.unit.next_timer() == at(4s));
  rig.read(1500ms);                       // 06: too often
  rig.send(Rig::read_pdu(0, 5), 2900ms);  // 03: too long
  rig.run(4s);
  CHECK(rig.state() == State::inhibited);
}

TEST_CASE("polling over a line that does not count hides a dead master") {
  Rig rig(base_spec());
  rig.read(1s, "ethernet");
  CHECK_FALSE(rig.unit.next_timer());  // does not arm
  rig.read(2s, "field");
  for (Duration t = 2s; t < 5s; t += 100ms) rig.read(t, "ethernet");
  rig.run(5s);
  CHECK(rig.state() == State::inhibited);
}

TEST_CASE("both of two counting lines do not feed") {
  UnitSpec spec = base_spec();
  spec.comms_loss.lines = {"field", "ethernet"};
  Rig rig(spec);
  rig.read(1s, "field");
  rig.read(3s, "ethernet");
  CHECK(rig.unit.next_timer() == at(6s));
}

TEST_CASE("from first-request: the watchdog is armed before the first feeding frame") {
  Rig rig(with_feeds(Feeds::write));
  rig.run(100s);
  CHECK(rig.state() == State::running);
  rig.read(101s);  // takes part, but does not feed
  CHECK_FALSE(rig.unit.next_timer());
  rig.write(kSetpoint, 10, 102s);
  CHECK(rig.unit.next_timer() == at(105s));
}

TEST_CASE("from first-request: a power cycle leaves the watchdog armed") {
  Rig rig(base_spec());
  rig.read(1s);
  rig.unit.set_powered(false, at(2s));
  rig.unit.set_powered(true, at(3s));
  rig.run(100s);
  CHECK(rig.state() == State::running);
  CHECK_FALSE(rig.unit.next_timer());
  rig.read(101s);
  CHECK(rig.unit.next_timer() == at(104s));
}

TEST_CASE("from power-up: the time does not count from the end of starting") {
  UnitSpec spec = base_spec();
  spec.comms_loss.from = ArmedFrom::power_up;
  Rig rig(spec);
  CHECK(rig.unit.next_timer() == at(3s));  // begins with its start-up over
  rig.unit.set_powered(false, at(1s));
  CHECK_FALSE(rig.unit.next_timer());
  rig.unit.set_powered(true, at(10s));
  rig.run(11s);
  CHECK(rig.state() == State::running);
  CHECK(rig.unit.next_timer() == at(14s));
  rig.run(14s);
  CHECK(rig.state() == State::inhibited);
}

TEST_CASE("the watchdog sleeps while the unit is stopped") {
  Rig rig(base_spec());
  rig.enable(false, 0s);
  rig.read(1s);
  rig.run(3999ms);
  CHECK(rig.state() == State::stopped);
  rig.run(4s);
  CHECK(rig.state() == State::inhibited);
}

TEST_CASE("acts_in remote: a loss does more than warn on a local setpoint") {
  for (const Policy policy : {Policy::hold_last_command, Policy::latch_to_inhibit, Policy::go_to_preset}) {
    CAPTURE(static_cast<int>(policy));
    UnitSpec spec = with_policy(policy);
    spec.local_setpoint = 0.3;
    Rig rig(spec);
    rig.write(kSource, 1, 1s);
    CHECK(rig.output() == 0.3);
    rig.run(4s);
    CHECK(rig.warns());
    CHECK_FALSE(rig.tripped());
    CHECK(rig.state() == State::running);
    CHECK(rig.output() == 0.3);
    rig.unit.set_local_setpoint(0.4, at(5s));
    CHECK(rig.output() == 0.4);
    rig.read(6s);
    CHECK_FALSE(rig.warns());
  }
}

TEST_CASE("back on the register's setpoint with comms still lost, nothing acts") {
  UnitSpec spec = base_spec();
  spec.local_setpoint = 0.3;
  Rig rig(spec);
  rig.write(kSource, 1, 1s);
  rig.run(4s);
  CHECK(rig.state() == State::running);
  rig.write(kSource, 0, 5s, "ethernet");
  CHECK(rig.state() == State::inhibited);
  CHECK(rig.output() == 0.0);
}

TEST_CASE("acts_in always: a loss only warns on a local setpoint") {
  UnitSpec spec = base_spec();
  spec.local_setpoint = 0.3;
  spec.comms_loss.acts_in = ActsIn::always;
  Rig rig(spec);
  rig.write(kSource, 1, 1s);
  rig.run(4s);
  CHECK(rig.state() == State::inhibited);
  CHECK(rig.output() == 0.0);
}

TEST_CASE("hold-last-command: expiry changes the output or raises no warning") {
  Rig rig(with_policy(Policy::hold_last_command));
  rig.lose_comms();
  CHECK(rig.state() == State::holding);
  CHECK(rig.output() == 0.5);
  CHECK(rig.warns());
  CHECK_FALSE(rig.tripped());
}

TEST_CASE("hold-last-command: the next feeding frame does not clear the warning") {
  UnitSpec spec = with_policy(Policy::hold_last_command);
  spec.comms_loss.restored_after = 3;  // of a latch; a hold ends with the first frame
  Rig rig(spec);
  rig.lose_comms();
  rig.read(11s);
  CHECK_FALSE(rig.warns());
  CHECK(rig.state() == State::running);
}

TEST_CASE("holding: a setpoint that does not feed moves the output, or is not stored") {
  Rig rig(with_policy(Policy::hold_last_command));
  rig.lose_comms();
  rig.write(kSetpoint, 800, 11s, "ethernet");
  CHECK(rig.output() == 0.5);
  CHECK(rig.value(Point::setpoint_active) == 0.5);
  CHECK(rig.value(Point::setpoint) == doctest::Approx(0.8));
  rig.read(12s);
  CHECK(rig.output() == doctest::Approx(0.8));
}

TEST_CASE("latch-to-inhibit: expiry leaves the output on, or does not latch") {
  Rig rig(base_spec());
  rig.write(kSetpoint, 500, 1s);
  rig.run(3999999us);
  CHECK(rig.output() == 0.5);
  rig.run(4s);
  CHECK(rig.output() == 0.0);
  CHECK(rig.state() == State::inhibited);
  CHECK(rig.tripped());
  CHECK(rig.warns());
}

TEST_CASE("latch: comms coming back clear it by themselves") {
  Rig rig(base_spec());
  rig.lose_comms();
  for (Duration t = 10s; t < 20s; t += 1s) rig.write(kSetpoint, 500, t);
  CHECK(rig.state() == State::inhibited);
  CHECK(rig.output() == 0.0);
  CHECK(rig.tripped());
  CHECK_FALSE(rig.warns());  // the warning stands only while comms are lost
}

TEST_CASE("go-to-preset: a feeding frame moves the output, or leaves the warning") {
  Rig rig(with_policy(Policy::go_to_preset));
  rig.lose_comms();
  CHECK(rig.state() == State::preset);
  CHECK(rig.output() == 0.2);
  CHECK(rig.warns());
  CHECK_FALSE(rig.tripped());
  rig.read(11s);
  CHECK_FALSE(rig.warns());
  CHECK(rig.state() == State::preset);
  CHECK(rig.output() == 0.2);
}

TEST_CASE("go-to-preset: anything but an accepted setpoint write leaves the preset") {
  Rig rig(with_policy(Policy::go_to_preset));
  rig.lose_comms();
  rig.read(11s);
  rig.write(kSetpoint, 2000, 12s);  // refused
  rig.write(kHeartbeat, 1, 12s);
  rig.cycle(12s);
  CHECK(rig.state() == State::preset);
  rig.write(kSetpoint, 500, 13s);
  CHECK(rig.state() == State::running);
  CHECK(rig.output() == 0.5);
}

TEST_CASE("the policies' numbers are not hold 0, latch 1, preset 2") {
  const std::pair<Policy, int> numbers[] = {
      {Policy::hold_last_command, 0}, {Policy::latch_to_inhibit, 1}, {Policy::go_to_preset, 2}};
  for (const auto& [policy, number] : numbers) {
    Rig rig(with_policy(policy));
    CHECK(rig.read(1s, "field", kPolicy) == modbus::Bytes{3, 2, 0, static_cast<std::uint8_t>(number)});
    CHECK(rig.value(Point::comms_policy) == number);
  }
  Rig rig(with_policy(Policy::hold_last_command));
  CHECK(modbus::refusal_of(*rig.write(kPolicy, 3, 2s)) == modbus::Refusal::illegal_data_value);
}

TEST_CASE("a new timeout counts from the write instead of the last feeding frame") {
  Rig rig(base_spec());
  rig.read(1s);
  rig.write(kTimeout, 50, 3s, "ethernet");
  CHECK(rig.unit.next_timer() == at(6s));
  rig.write(kTimeout, 20, 3s, "ethernet");  // 1 s + 2 s is now: frames of this instant are still in time
  CHECK(rig.state() == State::running);
  rig.run(3s);
  CHECK(rig.state() == State::inhibited);
}

TEST_CASE("a timeout written too short for the silence so far does not expire at once") {
  Rig rig(base_spec());
  rig.write(kSetpoint, 500, 1s);
  rig.write(kTimeout, 10, 3500ms, "ethernet");
  CHECK(rig.state() == State::inhibited);
  CHECK(rig.output() == 0.0);
}

TEST_CASE("timeout written while expired: a longer one does not count from the last feeding frame") {
  Rig rig(with_policy(Policy::hold_last_command));
  rig.lose_comms();                          // last feed at 1 s
  rig.write(kTimeout, 80, 10s, "ethernet");  // 9 s have passed: still lost
  CHECK(rig.warns());
  rig.write(kTimeout, 150, 10s, "ethernet");  // not yet over
  CHECK_FALSE(rig.warns());
  CHECK(rig.state() == State::running);
  CHECK(rig.unit.next_timer() == at(16s));
  rig.run(16s);
  CHECK(rig.state() == State::holding);
}

TEST_CASE("timeout 0 written while expired leaves the warning, or takes the latch away") {
  Rig rig(base_spec());
  rig.lose_comms();
  rig.write(kTimeout, 0, 11s, "ethernet");
  CHECK_FALSE(rig.warns());
  CHECK(rig.tripped());
  CHECK(rig.state() == State::inhibited);
  rig.cycle(12s);  // no feeding frame since the loss: before (1)
  CHECK(rig.state() == State::inhibited);
  rig.read(13s);
  rig.cycle(14s);
  CHECK(rig.state() == State::running);
}

TEST_CASE("a policy written while latched takes the latch away") {
  for (const int policy : {0, 2}) {
    Rig rig(base_spec());
    rig.lose_comms();
    rig.write(kPolicy, policy, 11s, "ethernet");
    CHECK(rig.state() == State::inhibited);
    rig.read(12s);
    CHECK(rig.state() == State::inhibited);
    rig.cycle(13s);
    CHECK(rig.state() == State::running);
  }
}

TEST_CASE("a policy written while expired waits for the next loss") {
  Rig rig(with_policy(Policy::hold_last_command));
  rig.lose_comms();
  rig.write(kPolicy, 2, 11s, "ethernet");
  CHECK(rig.state() == State::preset);
  rig.write(kPolicy, 1, 12s, "ethernet");
  CHECK(rig.state() == State::inhibited);
}

TEST_CASE("a feeding frame that writes the policy latch is taken for a loss under it") {
  Rig rig(with_policy(Policy::hold_last_command));
  rig.lose_comms();
  rig.write(kPolicy, 1, 11s);
  CHECK(rig.state() == State::running);
  CHECK_FALSE(rig.tripped());
}

TEST_CASE("a frame at the very instant of expiry is late") {
  Rig rig(base_spec());
  rig.read(1s);
  rig.read(4s);
  rig.run(4s);
  CHECK(rig.state() == State::running);
  CHECK(rig.unit.next_timer() == at(7s));
}

TEST_CASE("a frame after the expiry hides it when no timer was run in between") {
  Rig rig(base_spec());
  rig.read(1s);
  rig.read(4s + 1ns);
  CHECK(rig.state() == State::inhibited);
  REQUIRE(rig.notes.has("state running -> inhibited"));
  for (const auto& note : rig.notes.notes) {
    if (note.sentence.find("-> inhibited") != std::string::npos) CHECK(note.at == at(4s));
  }
}

TEST_CASE("the longest gap beside the timeout is not kept, or not journaled") {
  Rig rig(base_spec());
  rig.read(1s);
  rig.read(2s);
  CHECK_FALSE(rig.notes.has("closest call"));
  rig.read(4500ms);
  CHECK(rig.notes.has("closest call so far: 2.5 s without a feeding request, the timeout is 3 s"));
  rig.read(6s);
  CHECK(rig.value(Point::comms_gap_longest, 6s) == 2.5);
  CHECK(rig.value(Point::comms_age, 7s) == 1.0);
  CHECK(rig.value(Point::comms_gap_longest, 8900ms) == doctest::Approx(2.9));  // the running one counts
}
