// States by precedence, and relays by their truth table.
#include <doctest/doctest.h>

#include "sim/unit/relays.hpp"
#include "sim/unit/state.hpp"
#include "tests/sim/unit/rig.hpp"

using namespace emberline;
using namespace emberline::unit;
using registers::Trip;
using registers::Warning;

TEST_CASE("the order of states is not unpowered, starting, tripped, inhibited, stopped, preset, holding") {
  // All 128 combinations against the list walked from the top.
  for (unsigned bits = 0; bits < 128; ++bits) {
    CAPTURE(bits);
    const bool applies[] = {(bits & 1u) != 0,  (bits & 2u) != 0,  (bits & 4u) != 0, (bits & 8u) != 0,
                            (bits & 16u) != 0, (bits & 32u) != 0, (bits & 64u) != 0};
    const State order[] = {State::unpowered, State::starting, State::tripped, State::inhibited,
                           State::stopped,   State::preset,   State::holding};
    State expected = State::running;
    for (std::size_t i = 7; i-- > 0;)
      if (applies[i]) expected = order[i];
    CHECK(decide_state({.powered = !applies[0],
                        .starting = applies[1],
                        .tripped = applies[2],
                        .latched = applies[3],
                        .enabled = !applies[4],
                        .at_preset = applies[5],
                        .holding = applies[6]}) == expected);
  }
}

TEST_CASE("the numbers of the states, as registers carry them, have moved") {
  const std::pair<State, int> numbers[] = {{State::unpowered, 0}, {State::starting, 1}, {State::stopped, 2},
                                           {State::running, 3},   {State::holding, 4},  {State::preset, 5},
                                           {State::inhibited, 6}, {State::tripped, 7}};
  for (const auto& [state, number] : numbers) {
    CHECK(static_cast<int>(state) == number);
    CHECK(answers(state) == (number >= 2));
    CHECK(delivers(state) == (number >= 3 && number <= 5));
  }
}

TEST_CASE("a relay's contact is not what its truth table says") {
  struct Case {
    bool powered, alarm;
    Coil coil;
    Contact contact;
    bool closed;
  };
  constexpr Coil healthy = Coil::energised_when_healthy;
  constexpr Coil on_alarm = Coil::energised_on_alarm;
  constexpr Contact open = Contact::normally_open;
  constexpr Contact shut = Contact::normally_closed;
  const Case cases[] = {
      {true, false, healthy, open, true},    {true, true, healthy, open, false},
      {true, false, healthy, shut, false},   {true, true, healthy, shut, true},
      {true, false, on_alarm, open, false},  {true, true, on_alarm, open, true},
      {true, false, on_alarm, shut, true},   {true, true, on_alarm, shut, false},
      {false, false, healthy, open, false},  {false, true, healthy, open, false},
      {false, false, healthy, shut, true},   {false, true, healthy, shut, true},
      {false, false, on_alarm, open, false}, {false, true, on_alarm, open, false},
      {false, false, on_alarm, shut, true},  {false, true, on_alarm, shut, true},
  };
  const std::uint32_t bit = registers::bit(Warning::comms_loss);
  for (const auto& one : cases) {
    CAPTURE(one.powered);
    CAPTURE(one.alarm);
    for (const bool by_trip : {false, true}) {  // either acts
      RelaySpec spec{"K1", by_trip ? 0 : bit, by_trip ? bit : 0, one.coil, one.contact};
      const std::uint32_t raised = one.alarm ? bit : 0;
      CHECK(contact_closed(spec, {one.powered, by_trip ? 0 : raised, by_trip ? raised : 0}) == one.closed);
    }
  }
}

TEST_CASE("a relay acts on a warning or trip it does not name") {
  RelaySpec spec;
  spec.on_warnings = registers::bit(Warning::supply_absent);
  spec.on_trips = registers::bit(Trip::comms_loss);
  CHECK(contact_closed(spec, {true, registers::bit(Warning::comms_loss), registers::bit(Trip::fuse_open)}));
  CHECK_FALSE(contact_closed(spec, {true, registers::bit(Warning::supply_absent), 0}));
}

TEST_CASE("a fail-safe relay stays closed when the control supply goes, or follows late") {
  UnitSpec spec = base_spec();
  RelaySpec relay;
  relay.on_warnings = registers::bit(Warning::comms_loss);
  spec.relays = {relay};
  Rig rig(spec);
  CHECK(rig.unit.relay_closed(0));
  rig.unit.set_powered(false, at(1s));
  CHECK_FALSE(rig.unit.relay_closed(0));
  rig.unit.set_powered(true, at(2s));
  rig.run(3s);
  CHECK(rig.unit.relay_closed(0));
  rig.read(4s);
  rig.run(7s);
  CHECK_FALSE(rig.unit.relay_closed(0));
  rig.read(8s);
  CHECK(rig.unit.relay_closed(0));
}

TEST_CASE("power, start-up and enable do not lead through the states") {
  Rig rig(base_spec());
  CHECK(rig.state() == State::running);
  rig.enable(false, 1s);
  CHECK(rig.state() == State::stopped);
  rig.unit.set_powered(false, at(2s));
  CHECK(rig.state() == State::unpowered);
  rig.enable(true, 2500ms);
  CHECK(rig.state() == State::unpowered);
  rig.unit.set_powered(true, at(3s));
  CHECK(rig.state() == State::starting);
  CHECK(rig.unit.next_timer() == at(4s));
  rig.run(4s);
  CHECK(rig.state() == State::running);
  CHECK(rig.notes.has("state starting -> running: start-up over"));
}

TEST_CASE("power going in the middle of starting leaves its timer running") {
  Rig rig(base_spec());
  rig.unit.set_powered(false, at(1s));
  rig.unit.set_powered(true, at(2s));
  rig.unit.set_powered(false, at(2500ms));
  CHECK_FALSE(rig.unit.next_timer());
  rig.run(10s);
  CHECK(rig.state() == State::unpowered);
}

TEST_CASE("a unit without start-up time waits") {
  UnitSpec spec = base_spec();
  spec.start_up = 0s;
  Rig rig(spec);
  rig.unit.set_powered(false, at(1s));
  rig.unit.set_powered(true, at(1s));
  CHECK(rig.state() == State::running);
}

TEST_CASE("a latched unit hides that it is stopped, or a holding one does not start at the held command") {
  UnitSpec spec = base_spec();
  spec.comms_loss.policy = Policy::hold_last_command;
  Rig rig(spec);
  rig.lose_comms();
  rig.enable(false, 11s);
  CHECK(rig.state() == State::stopped);
  CHECK(rig.output() == 0.0);
  rig.enable(true, 12s);
  CHECK(rig.state() == State::holding);
  CHECK(rig.output() == 0.5);
}
