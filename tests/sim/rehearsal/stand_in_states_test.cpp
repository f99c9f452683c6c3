#include <chrono>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/rehearsal/stand_in.hpp"
#include "tests/sim/rehearsal/stand_in_rig.hpp"

namespace emberline::rehearsal {
namespace {

using namespace stand_in_rig;

const Target kPower = unit_register(0, "heater.load_power", 65);  // beside kCurrent: one block
const Target kCoil = coil("marshalling.coil.3", 3);

MasterSpec with_states(std::vector<MasterState> states, std::vector<ProgramStep> program = {}) {
  MasterSpec master = plc(std::move(program));
  master.states = std::move(states);
  return master;
}

/// kCurrent (and kPower) above 0.5 from `from` up to, not including, `to`.
ScriptedLink::Script high_between(Duration from, Duration to) {
  return carrying([=](SimTime now) { return now >= at(from) && now < at(to) ? 0.8 : 0.2; });
}

TEST_CASE(
    "a state is entered with its writes, then its steps fall due at once, and those of the old one no more") {
  const auto link = played(with_states({{"idle", {}, {read_every(2s, {kCurrent})}, {go_after(1, 5s)}},
                                        {"heat",
                                         {{kSetpoint, 0.1}, {kCoil, 1.0}},
                                         {read_every(3s, {kOther}), write_at(1s, {{kSetpoint, 0.6}})},
                                         {}}}),
                           12s, always);
  // Entered at 5 s: its period counts from there, and so does its 'at'.
  CHECK(link.did == Lines{"0 field 1 holding 64+1", "2 field 1 holding 64+1", "4 field 1 holding 64+1",
                          "5 field 1 write 48 = 100", "5.01 field 20 coil 3 = on",
                          "5.02 field 2 holding 64+1", "6 field 1 write 48 = 600", "8 field 2 holding 64+1",
                          "11 field 2 holding 64+1"});
  CHECK(link.noted == Lines{"0 begins in idle", "5 goes from idle to heat: after 5 s"});
}

TEST_CASE("at the instant a state's time is over, what it still had to do is not done") {
  const auto link =
      played(with_states({{"idle", {}, {write_every(5s, {{kSetpoint, 0.1}})}, {go_after(1, 5s)}},
                          {"heat", {}, {write_every(10s, {{kSetpoint, 0.9}})}, {}}}),
             8s, always);
  CHECK(writes_of(link) == Lines{"0 field 1 write 48 = 100", "5 field 1 write 48 = 900"});
}

TEST_CASE("a change takes effect after the step under way and before the next one of the old state") {
  // The read that shows it lies between two writes of the same instant.
  const auto link = played(with_states({{"idle",
                                         {},
                                         {write_every(2s, {{kSetpoint, 0.1}}), read_every(2s, {kCurrent}),
                                          write_every(2s, {{kSetpoint, 0.2}})},
                                         {go_when(1, when_above(kCurrent, 0.5))}},
                                        {"safe", {{kSetpoint, 0.0}}, {}, {}}}),
                           9s, high_between(4s, 60s));
  CHECK(writes_of(link) == Lines{"0 field 1 write 48 = 100", "0.02 field 1 write 48 = 200",
                                 "2 field 1 write 48 = 100", "2.02 field 1 write 48 = 200",
                                 "4 field 1 write 48 = 100", "4.02 field 1 write 48 = 0"});
  CHECK(link.noted ==
        Lines{"0 begins in idle", "4.02 goes from idle to safe: heater.load_current above 50 %"});
}

TEST_CASE("every value of a block counts, not only the one the block begins with") {
  const auto script = [](const std::string& request, SimTime now) {
    const bool block = request == "field 1 holding 64+2";
    return Answer{
        .word = 0,
        .words = block ? std::vector<std::uint16_t>{200, static_cast<std::uint16_t>(now < at(4s) ? 300 : 700)}
                       : std::vector<std::uint16_t>{}};
  };
  const auto link = played(
      with_states({{"idle", {}, {read_every(2s, {kCurrent, kPower})}, {go_when(1, when_above(kPower, 0.5))}},
                   {"safe", {}, {}, {}}}),
      9s, script);
  CHECK(link.noted == Lines{"0 begins in idle", "4.01 goes from idle to safe: heater.load_power above 50 %"});
}

TEST_CASE("a value that was never read makes no condition true, and a bad answer changes none") {
  Trigger low = when_above(kCurrent, 0.5);
  low.readings[0].comparator = Condition::Comparator::below;
  Trigger other_than = low;
  other_than.readings[0].comparator = Condition::Comparator::not_equal;
  for (const Trigger& trigger : {low, other_than}) {
    const auto states = std::vector<MasterState>{
        {"idle", {}, {read_every(1s, {kCurrent})}, {go_when(1, trigger)}}, {"safe", {}, {}, {}}};
    CHECK(played(with_states(states), 5s, never).noted.size() == 2);   // begins, and no answer
    CHECK(played(with_states(states), 5s, always).noted.size() == 2);  // begins, and goes
  }
  // Read once, then silence: what was read last stands.
  const auto link = played(
      with_states({{"idle", {}, {read_every(1s, {kCurrent})}, {go_when(1, when_above(kCurrent, 0.5), 4s)}},
                   {"safe", {}, {}, {}}}),
      9s, [](const std::string&, SimTime now) {
        return now < at(500ms) ? Answer{.word = 900} : Answer{.any = false, .refusal = {}};
      });
  // 4 s are over at 4.01 s, while the request of 4 s is under way: that is waited for.
  CHECK(link.noted.back() == "4.5 goes from idle to safe: heater.load_current above 50 % for 4 s");
}

TEST_CASE("what has to hold for some time has to do so without a break") {
  // Read each second; high at 1, 2, low at 3, high from 4 s on: 2 s of it are over at 6.01 s.
  const auto link = played(
      with_states({{"idle", {}, {read_every(1s, {kCurrent})}, {go_when(1, when_above(kCurrent, 0.5), 2s)}},
                   {"safe", {}, {}, {}}}),
      20s,
      carrying([](SimTime now) { return (now >= at(1s) && now < at(3s)) || now >= at(4s) ? 0.8 : 0.2; }));
  CHECK(link.noted.back() == "6.01 goes from idle to safe: heater.load_current above 50 % for 2 s");
}

TEST_CASE("its time may be over between two reads: the state is left then") {
  const auto link = played(
      with_states(
          {{"idle", {}, {read_every(10s, {kCurrent})}, {go_when(1, when_above(kCurrent, 0.5), 1500ms)}},
           {"safe", {{kCoil, 0.0}}, {}, {}}}),
      20s, high_between(0s, 60s));
  CHECK(writes_of(link) == Lines{"1.51 field 20 coil 3 = off"});
}

TEST_CASE("of several ways out the first of the file that holds is taken") {
  const auto link = played(with_states({{"idle",
                                         {},
                                         {read_every(1s, {kCurrent, kPower})},
                                         {go_when(2, when_above(kPower, 0.5)),
                                          go_when(1, when_above(kCurrent, 0.5)), go_after(1, 5s)}},
                                        {"first", {}, {}, {}},
                                        {"second", {}, {}, {}}}),
                           20s, high_between(3s, 60s));
  CHECK(link.noted.back() == "3.01 goes from idle to second: heater.load_power above 50 %");
}

TEST_CASE("all conditions of a way have to hold") {
  Trigger both = when_above(kCurrent, 0.5);
  both.readings.push_back(reads_above(kOther, 0.5));
  const auto script = [](const std::string& request, SimTime now) {
    const bool high = request.starts_with("field 2") ? now >= at(5s) : now >= at(2s);
    return Answer{.word = static_cast<std::uint16_t>(high ? 900 : 100)};
  };
  const auto link =
      played(with_states({{"idle", {}, {read_every(1s, {kCurrent, kOther})}, {go_when(1, both)}},
                          {"safe", {}, {}, {}}}),
             20s, script);
  CHECK(link.noted.back() ==
        "5.02 goes from idle to safe: heater.load_current above 50 % and other.load_current above 50 %");
}

TEST_CASE("two states that lead to each other take turns by steps and do not stop the clock") {
  const auto high = when_above(kCurrent, 0.5);
  const auto link = played(with_states({{"a", {}, {}, {go_when(1, high)}}, {"b", {}, {}, {go_when(0, high)}}},
                                       {read_every(1s, {kCurrent})}),
                           3500ms, high_between(0s, 60s));
  CHECK(link.noted.size() == 5);  // begins, and after each of four reads
  // Even where no time passes with a step: there is no line to its slave.
  MasterSpec nowhere = with_states({{"a", {}, {}, {go_after(1, 1s)}}, {"b", {}, {}, {go_after(0, 1s)}}});
  CHECK(played(nowhere, 3500ms, always).noted.size() == 4);
}

TEST_CASE("a state that leads to itself begins anew") {
  const auto link =
      played(with_states({{"pulse", {{kCoil, 1.0}}, {write_at(1s, {{kCoil, 0.0}})}, {go_after(0, 4s)}}}), 9s,
             always);
  CHECK(writes_of(link) == Lines{"0 field 20 coil 3 = on", "1 field 20 coil 3 = off",
                                 "4 field 20 coil 3 = on", "5 field 20 coil 3 = off",
                                 "8 field 20 coil 3 = on", "9 field 20 coil 3 = off"});
}

TEST_CASE("the steps that always run go on through all states, ahead of the state's") {
  const auto link =
      played(with_states({{"idle", {}, {write_every(2s, {{kSetpoint, 0.0}})}, {go_after(1, 3s)}},
                          {"heat", {}, {write_every(3s, {{kSetpoint, 0.5}})}, {}}},
                         {read_every(2s, {kCurrent})}),
             6500ms, always);
  CHECK(link.did == Lines{"0 field 1 holding 64+1", "0.01 field 1 write 48 = 0", "2 field 1 holding 64+1",
                          "2.01 field 1 write 48 = 0", "3 field 1 write 48 = 500", "4 field 1 holding 64+1",
                          "6 field 1 holding 64+1", "6.01 field 1 write 48 = 500"});
}

TEST_CASE("it begins in the state it is told to") {
  MasterSpec master = with_states({{"idle", {{kCoil, 0.0}}, {}, {}}, {"heat", {{kCoil, 1.0}}, {}, {}}});
  master.starts_in = 1;
  const auto link = played(master, 5s, always);
  CHECK(link.did == Lines{"0 field 20 coil 3 = on"});
  CHECK(link.noted == Lines{"0 begins in heat"});
}

// --- losses, returns, refusals -----------------------------------------------------------------------------

TEST_CASE(
    "a loss leads to the safe state, whose writes go out although the slave is lost, and a return leads "
    "back") {
  MasterSpec master = with_states({{"heat",
                                    {},
                                    {write_every(1s, {{kSetpoint, 0.6}})},
                                    {go_when(1, when_slave(SlaveCondition::Kind::lost, kCurrent))}},
                                   {"safe",
                                    {{kCoil, 0.0}, {kSetpoint, 0.0}},
                                    {},
                                    {go_when(0, when_slave(SlaveCondition::Kind::back, kCurrent))}}},
                                  {read_every(1s, {kCurrent})});
  master.lost_after = 2;
  const auto link = played(master, 6s, [](const std::string& request, SimTime now) {
    return request.starts_with("field 1 ") && now >= at(1s) && now < at(4s) ? kSilence : Answer{};
  });
  CHECK(writes_of(link) == Lines{"0.01 field 1 write 48 = 600", "1.5 field 1 write 48 = 600",
                                 "2 field 20 coil 3 = off", "2.01 field 1 write 48 = 0",
                                 "4.01 field 1 write 48 = 600", "5.01 field 1 write 48 = 600"});
  CHECK(link.noted ==
        Lines{"0 begins in heat",
              "2 no answer from heater, 2 requests in a row given up: counts as lost, writes nothing",
              "2 goes from heat to safe: heater is lost", "4.01 heater answers again: no longer lost",
              "4.01 goes from safe to heat: heater is back"});
}

TEST_CASE("a return before the state was entered does not count") {
  MasterSpec master =
      with_states({{"idle", {}, {}, {go_after(1, 5s)}},
                   {"safe", {}, {}, {go_when(0, when_slave(SlaveCondition::Kind::back, kCurrent))}}},
                  {read_every(1s, {kCurrent})});
  master.lost_after = 1;
  const auto link = played(master, 9s, silent_between(1s, 3s));
  CHECK(link.noted.back() == "5 goes from idle to safe: after 5 s");
}

TEST_CASE("a refusal is seen in the state it is met in, and forgotten when it is accepted") {
  const auto refused = when_slave(SlaveCondition::Kind::refused, kSetpoint);
  const auto script = [](const std::string& request, SimTime now) {
    const bool refuses = request.find("write") != std::string::npos && now < at(2500ms);
    return refuses ? Answer{.refusal = modbus::Refusal::illegal_data_value} : Answer{};
  };
  // The read of the same slave is answered all the time; 3 s without a break are never reached.
  const auto states = [&](Duration holds_for) {
    return std::vector<MasterState>{{"heat",
                                     {},
                                     {write_every(1s, {{kSetpoint, 0.6}}), read_every(1s, {kCurrent})},
                                     {go_when(1, refused, holds_for)}},
                                    {"alarm", {}, {}, {}}};
  };
  CHECK(played(with_states(states(1s)), 9s, script).noted.back() ==
        "1.01 goes from heat to alarm: heater refuses a request for 1 s");
  CHECK(played(with_states(states(3s)), 9s, script).noted.back() ==
        "3.01 heater accepted heater.setpoint = 60 % at 0x0030 (40049)");
}

TEST_CASE("when_lost and when_back lead to a state from wherever it is, after their writes") {
  MasterSpec master = with_states({{"idle", {}, {}, {go_after(1, 1s)}},
                                   {"heat", {}, {write_every(2s, {{kSetpoint, 0.5}})}, {}},
                                   {"safe", {{kCoil, 0.0}}, {}, {}}},
                                  {read_every(2s, {kCurrent})});
  master.lost_after = 1;
  master.when_lost_writes = {{kSetpoint, 0.0}};
  master.when_lost_go = 2;
  master.when_back_go = 0;
  const auto link = played(master, 6s, silent_between(2s, 3s));
  CHECK(link.noted ==
        Lines{"0 begins in idle", "1 goes from idle to heat: after 1 s",
              "2.5 no answer from heater, 1 request given up: counts as lost, writes what it has "
              "for this case",
              "3 goes from heat to safe: heater is lost", "4.01 heater answers again: no longer lost",
              "4.01 goes from safe to idle: heater is back", "5.01 goes from idle to heat: after 1 s"});
  CHECK(writes_of(link)[1] == "2.5 field 1 write 48 = 0");
}

// --- alarms ------------------------------------------------------------------------------------------------

TEST_CASE("an alarm writes once each time it comes and once when it goes") {
  MasterSpec master = plc({read_every(1s, {kCurrent})});
  master.alarms = {{"overcurrent", when_above(kCurrent, 0.5), 1s, {{kCoil, 1.0}}, {}, {{kCoil, 0.0}}}};
  const auto link = played(master, 12s, carrying([](SimTime now) {
                             const bool high = (now >= at(2s) && now < at(5s)) ||
                                               (now >= at(6s) && now < at(7s)) || now >= at(9s);
                             return high ? 0.8 : 0.2;
                           }));
  // A second above is enough: seen at 2.01 s, over at 3.01 s; the single high read of 6 s is not.
  CHECK(writes_of(link) ==
        Lines{"3.01 field 20 coil 3 = on", "5.01 field 20 coil 3 = off", "10.01 field 20 coil 3 = on"});
  CHECK(link.noted == Lines{"3.01 alarm 'overcurrent' comes: heater.load_current above 50 % for 1 s",
                            "5.01 alarm 'overcurrent' goes",
                            "10.01 alarm 'overcurrent' comes: heater.load_current above 50 % for 1 s"});
}

TEST_CASE("an alarm leads to its state before the state's own ways are looked at") {
  MasterSpec master = with_states({{"heat", {}, {}, {go_when(1, when_above(kCurrent, 0.5))}},
                                   {"done", {}, {}, {}},
                                   {"safe", {{kSetpoint, 0.0}}, {}, {}}},
                                  {read_every(1s, {kCurrent})});
  master.alarms = {{"overcurrent", when_above(kCurrent, 0.5), {}, {{kCoil, 1.0}}, 2, {}}};
  const auto link = played(master, 5s, high_between(2s, 60s));
  CHECK(writes_of(link) == Lines{"2.01 field 20 coil 3 = on", "2.02 field 1 write 48 = 0"});
  CHECK(link.noted == Lines{"0 begins in heat",
                            "2.01 alarm 'overcurrent' comes: heater.load_current above 50 %",
                            "2.02 goes from heat to safe: alarm 'overcurrent'"});
}

TEST_CASE("an alarm that leads to where the program is takes the place of no loss") {
  MasterSpec master =
      with_states({{"heat", {}, {}, {}}, {"safe", {{kSetpoint, 0.0}}, {}, {}}}, {read_every(1s, {kCurrent})});
  master.lost_after = 1;
  master.when_lost_go = 1;
  master.alarms = {{"comms", when_slave(SlaveCondition::Kind::lost, kCurrent), {}, {{kCoil, 1.0}}, 0, {}}};
  const auto link = played(master, 3s, [](const std::string& request, SimTime now) {
    return request.starts_with("field 1 ") && now >= at(1s) ? kSilence : Answer{};
  });
  CHECK(link.noted.back() == "1.51 goes from heat to safe: heater is lost");
}

TEST_CASE("an alarm of a loss comes and goes with it, without states too") {
  MasterSpec master = plc({read_every(1s, {kCurrent})});
  master.lost_after = 1;
  master.alarms = {
      {"comms", when_slave(SlaveCondition::Kind::lost, kCurrent), {}, {{kCoil, 1.0}}, {}, {{kCoil, 0.0}}}};
  const auto link = played(master, 6s, [](const std::string& request, SimTime now) {
    return request.starts_with("field 1 ") && now >= at(1s) && now < at(3s) ? kSilence : Answer{};
  });
  CHECK(writes_of(link) == Lines{"1.5 field 20 coil 3 = on", "3.01 field 20 coil 3 = off"});
}

}  // namespace
}  // namespace emberline::rehearsal
