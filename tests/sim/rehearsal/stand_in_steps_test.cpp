#include <chrono>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/rehearsal/stand_in.hpp"
#include "tests/sim/rehearsal/stand_in_rig.hpp"

namespace emberline::rehearsal {
namespace {

using namespace stand_in_rig;
using Stale = ProgramStep::Stale;

const Target kHeartbeat = [] {
  Target target = unit_register(0, "heater.heartbeat", 60);
  target.row.layout.scale = 1.0;
  target.info.dimension = Dimension::number;
  return target;
}();

/// A temperature in an input register of another slave, in tenths of a degree.
const Target kMeasured = [] {
  Target target = unit_register(2, "soak.measured", 0);
  target.row.table = modbus::Table::input_registers;
  target.row.layout = {.type = registers::Type::s16, .scale = 0.1};
  target.info.dimension = Dimension::temperature;
  return target;
}();

/// e = 10 K gives 40 % and a further 4 % x T/Ti a sample; T = 2 s, Ti = 20 s: 1 % of 10 K for each sample.
ProgramStep loop() {
  ProgramStep step;
  step.kind = Kind::control;
  step.every = 2s;
  step.output = kSetpoint;
  step.measured = kMeasured;
  step.target_value = 560.0;
  step.gain = 0.04;
  step.integral_time = 20s;
  return step;
}

Answer degrees(double degC) { return {.word = static_cast<std::uint16_t>(degC * 10 + 0.5)}; }

// --- write, ramp, count ------------------------------------------------------------------------------------

TEST_CASE("what is written on change goes out once, and again when it was not taken or is another value") {
  ProgramStep first = write_every(2s, {{kSetpoint, 0.5}});
  first.on_change = true;
  // Not answered at 0 s, taken at 2 s; the other step puts something else there at 5 s, so 6 s writes again.
  const auto link = played(plc({first, write_at(5s, {{kSetpoint, 0.2}})}), 11s, silent_between(0s, 100ms));
  CHECK(link.did == Lines{"0 field 1 write 48 = 500", "2 field 1 write 48 = 500", "5 field 1 write 48 = 200",
                          "6 field 1 write 48 = 500"});
}

TEST_CASE("after a write that nobody answered, what was taken before is not believed to stand there") {
  ProgramStep first = write_every(2s, {{kSetpoint, 0.5}});
  first.on_change = true;
  // Taken at 0 s; the 20 % of 5 s may have arrived or not, so 6 s writes again.
  const auto link = played(plc({first, write_at(5s, {{kSetpoint, 0.2}})}), 7s, silent_between(5s, 5500ms));
  CHECK(link.did ==
        Lines{"0 field 1 write 48 = 500", "5 field 1 write 48 = 200", "6 field 1 write 48 = 500"});
}

TEST_CASE("a value that makes the same register is no change, and a refused one was not taken") {
  ProgramStep first = write_every(2s, {{kSetpoint, 0.5}, {coil("marshalling.coil.3", 3), 1.0}});
  first.on_change = true;
  ProgramStep second = write_every(2s, {{kSetpoint, 0.50004}});
  second.on_change = true;
  CHECK(played(plc({first, second}), 7s, always).did.size() == 2);
  const auto link = played(plc({first}), 3s, [](const std::string& request, SimTime) {
    return request.find("coil") == std::string::npos ? Answer{.refusal = modbus::Refusal::illegal_data_value}
                                                     : Answer{};
  });
  CHECK(link.did.size() == 3);  // the coil once, the setpoint twice
}

TEST_CASE("a ramp goes from end to end in its time and stays there") {
  ProgramStep ramp;
  ramp.kind = Kind::ramp;
  ramp.every = 2s;
  ramp.ramps = {{kSetpoint, 0.1, 0.6, 5s}};
  // 10 % + 50 % x t / 5 s.
  CHECK(played(plc({ramp}), 9s, always).did == Lines{"0 field 1 write 48 = 100", "2 field 1 write 48 = 300",
                                                     "4 field 1 write 48 = 500", "6 field 1 write 48 = 600",
                                                     "8 field 1 write 48 = 600"});
  ramp.on_change = true;
  ramp.ramps = {{kSetpoint, 0.6, 0.1, 5s}};  // and down
  CHECK(played(plc({ramp}), 9s, always).did == Lines{"0 field 1 write 48 = 600", "2 field 1 write 48 = 400",
                                                     "4 field 1 write 48 = 200", "6 field 1 write 48 = 100"});
}

TEST_CASE("a heartbeat counts from 1 to 65535 and on to 1, and waits while its slave is lost") {
  ProgramStep count;
  count.kind = Kind::count;
  count.every = 1s;
  count.output = kHeartbeat;
  const auto link = played(plc({count}), 65537s, always);
  CHECK(link.did[0] == "0 field 1 write 60 = 1");
  CHECK(link.did[65534] == "65534 field 1 write 60 = 65535");
  CHECK(link.did[65535] == "65535 field 1 write 60 = 1");

  MasterSpec master = plc({read_every(1s, {kCurrent}), count});
  master.lost_after = 1;
  CHECK(writes_of(played(master, 4500ms, silent_between(1s, 2500ms))) ==
        Lines{"0.01 field 1 write 60 = 1", "3.01 field 1 write 60 = 2", "4.01 field 1 write 60 = 3"});
}

TEST_CASE("a step with a condition is left out while that does not hold, and made up for by nothing") {
  ProgramStep shed = write_every(2s, {{kSetpoint, 0.1}});
  shed.when = when_above(kOther, 0.5);
  const auto link = played(plc({read_every(2s, {kOther}), shed}), 9s,
                           carrying([](SimTime now) { return now >= at(3s) && now < at(7s) ? 0.8 : 0.2; }));
  CHECK(writes_of(link) == Lines{"4.01 field 1 write 48 = 100", "6.01 field 1 write 48 = 100"});
}

// --- control -----------------------------------------------------------------------------------------------

TEST_CASE("a loop stays below the ceiling it is given") {
  ProgramStep step = loop();
  step.at_most = 0.45;
  // 0.04 (10 + n x 10 x 2/20): 44 %, 48 %, ...
  CHECK(writes_of(played(plc({step}), 5s, [](const std::string&, SimTime) { return degrees(550); })) ==
        Lines{"0.01 field 1 write 48 = 440", "2.01 field 1 write 48 = 450", "4.01 field 1 write 48 = 450"});
}

TEST_CASE("what a loop does when its measured value does not come") {
  // 550 degC at 0 s, nothing at 2 and 4 s, 550 degC at 6 s.
  const auto script = [](const std::string& request, SimTime now) {
    const bool measured = request.starts_with("field 3");
    return measured && now >= at(1s) && now < at(5s) ? kSilence : degrees(550);
  };
  struct Row {
    Stale stale;
    Lines writes;
  };
  const Row rows[] = {
      {Stale::hold, {"0.01 field 1 write 48 = 440", "6.01 field 1 write 48 = 480"}},
      {Stale::zero,
       {"0.01 field 1 write 48 = 440", "2.5 field 1 write 48 = 0", "4.5 field 1 write 48 = 0",
        "6.01 field 1 write 48 = 480"}},
      // Goes on as if 550 degC were still true: the sum grows with each sample.
      {Stale::use_last,
       {"0.01 field 1 write 48 = 440", "2.5 field 1 write 48 = 480", "4.5 field 1 write 48 = 520",
        "6.01 field 1 write 48 = 560"}},
  };
  for (const auto& [stale, writes] : rows) {
    CAPTURE(static_cast<int>(stale));
    ProgramStep step = loop();
    step.stale = stale;
    CHECK(writes_of(played(plc({step}), 7s, script)) == writes);
  }
}

TEST_CASE("a loop that never had a value writes none, however careless it is") {
  ProgramStep step = loop();
  step.stale = Stale::use_last;
  CHECK(writes_of(played(plc({step}), 7s, never)).empty());
}

TEST_CASE("while the output's slave is lost a careless loop goes on adding up") {
  for (const bool careless : {false, true}) {
    ProgramStep step = loop();
    step.integrates_while_lost = careless;
    MasterSpec master = plc({read_every(2s, {kCurrent}), step});
    master.lost_after = 1;
    const auto link = played(master, 7s, [](const std::string& request, SimTime now) {
      return request.starts_with("field 1") && now >= at(1s) && now < at(5s) ? kSilence : degrees(550);
    });
    // 44 %; lost at 2 and 4 s; back at 6 s with the second sample, or with the fourth.
    CHECK(writes_of(link) == Lines{"0.02 field 1 write 48 = 440",
                                   careless ? "6.02 field 1 write 48 = 560" : "6.02 field 1 write 48 = 480"});
  }
}

TEST_CASE("a loop follows a firing curve from the temperature it found") {
  ProgramStep step = loop();
  step.integral_time = {};
  step.profile = {{560.0, 0.5, {}}, {std::nullopt, 0.0, 4s}, {100.0, 1.0, {}}};
  // Measured 557 degC all the time. Setpoint 557 + 0.5 t to 6 s, 560 to 10 s, then down by 1 K/s; K = 4 %/K.
  const auto link = played(plc({step}), 15s, [](const std::string&, SimTime) { return degrees(557); });
  CHECK(writes_of(link) == Lines{"0.01 field 1 write 48 = 0", "2.01 field 1 write 48 = 40",
                                 "4.01 field 1 write 48 = 80", "6.01 field 1 write 48 = 120",
                                 "8.01 field 1 write 48 = 120", "10.01 field 1 write 48 = 120",
                                 "12.01 field 1 write 48 = 40", "14.01 field 1 write 48 = 0"});
}

TEST_CASE("a firing curve begins with the state it stands in") {
  ProgramStep step = loop();
  step.integral_time = {};
  step.profile = {{600.0, 1.0, {}}};
  MasterSpec master = plc({});
  master.states = {{"heat", {}, {step}, {go_after(1, 5s)}}, {"pause", {}, {}, {go_after(0, 1s)}}};
  const auto link = played(master, 9s, [](const std::string&, SimTime) { return degrees(557); });
  CHECK(writes_of(link) == Lines{"0.01 field 1 write 48 = 0", "2.01 field 1 write 48 = 80",
                                 "4.01 field 1 write 48 = 160", "6.01 field 1 write 48 = 0",
                                 "8.01 field 1 write 48 = 80"});
}

// --- how it asks -------------------------------------------------------------------------------------------

TEST_CASE("a pause is made before each further try, and none behind the last") {
  MasterSpec master = plc({read_every(10s, {kOther, kCurrent})});
  master.retries = 2;
  master.retry_after = 200ms;
  const auto link = played(master, 5s, [](const std::string& request, SimTime) {
    return request.starts_with("field 2") ? kSilence : Answer{};
  });
  CHECK(link.did == Lines{"0 field 2 holding 64+1", "0.7 field 2 holding 64+1", "1.4 field 2 holding 64+1",
                          "1.9 field 1 holding 64+1"});
}

TEST_CASE("a lost slave is asked as seldom as told, and as often as ever when it is back") {
  MasterSpec master = plc({read_every(1s, {kOther}), read_every(1s, {kCurrent})});
  master.lost_after = 2;
  master.poll_lost_every = 3s;
  const auto link = played(master, 9s, [](const std::string& request, SimTime now) {
    return request.starts_with("field 2") && now >= at(1s) && now < at(5s) ? kSilence : Answer{};
  });
  Lines others;
  for (const auto& line : link.did)
    if (line.find("field 2") != std::string::npos) others.push_back(line);
  CHECK(others == Lines{"0 field 2 holding 64+1", "1 field 2 holding 64+1", "2 field 2 holding 64+1",
                        "5 field 2 holding 64+1", "6 field 2 holding 64+1", "7 field 2 holding 64+1",
                        "8 field 2 holding 64+1", "9 field 2 holding 64+1"});
  CHECK(link.did.size() == 17);  // the other slave goes on being asked each second
}

TEST_CASE("a program that starts later counts its times from there, and ends where it stops") {
  MasterSpec master = plc({read_every(2s, {kCurrent}), write_at(1s, {{kSetpoint, 0.5}})});
  master.starts = at(5s);
  master.stops = at(9s);
  CHECK(played(master, 20s, always).did ==
        Lines{"5 field 1 holding 64+1", "6 field 1 write 48 = 500", "7 field 1 holding 64+1"});
}

TEST_CASE("no further try and no further request of a list is made once the program has stopped") {
  MasterSpec master = plc({read_every(10s, {kOther, kCurrent})});
  master.retries = 5;
  master.stops = at(700ms);
  const auto link = played(master, 20s, never);
  CHECK(link.did == Lines{"0 field 2 holding 64+1", "0.5 field 2 holding 64+1"});
  CHECK(link.noted.empty());
}

TEST_CASE("after a power failure everything is forgotten: times, counts, losses, states, what was written") {
  ProgramStep count;
  count.kind = Kind::count;
  count.every = 2s;
  count.output = kHeartbeat;
  ProgramStep once = write_every(2s, {{kSetpoint, 0.0}});
  once.on_change = true;
  MasterSpec master = plc({once, count});
  master.states = {{"idle", {}, {}, {go_after(1, 3s)}}, {"heat", {}, {}, {}}};
  master.restarts = {{at(5s), 2500ms}, {at(9s), 1s}};
  const auto link = played(master, 11s, always);
  CHECK(link.did == Lines{"0 field 1 write 48 = 0", "0.01 field 1 write 60 = 1", "2 field 1 write 60 = 2",
                          "4 field 1 write 60 = 3", "5 lost its connections", "7.5 field 1 write 48 = 0",
                          "7.51 field 1 write 60 = 1", "9 lost its connections", "10 field 1 write 48 = 0",
                          "10.01 field 1 write 60 = 1"});
  CHECK(link.noted == Lines{"0 begins in idle", "3 goes from idle to heat: after 3 s", "5 loses its power",
                            "7.5 begins anew, with everything forgotten", "7.5 begins in idle",
                            "9 loses its power", "10 begins anew, with everything forgotten",
                            "10 begins in idle"});
}

TEST_CASE("a stand-in without power waits for its answer, and is back late") {
  MasterSpec master = plc({read_every(10s, {kOther, kCurrent})});
  master.retries = 5;
  master.restarts = {{at(700ms), 100ms}};
  SUBCASE("in a request") {
    const auto link = played(master, 1s, never);
    CHECK(link.did == Lines{"0 field 2 holding 64+1", "0.5 field 2 holding 64+1", "0.7 lost its connections",
                            "0.8 field 2 holding 64+1"});
    CHECK(link.noted == Lines{"0.7 loses its power", "0.8 begins anew, with everything forgotten"});
  }
  SUBCASE("in a pause between two tries") {
    master.retry_after = 5s;
    const auto link = played(master, 1s, never);
    CHECK(link.noted == Lines{"0.7 loses its power", "0.8 begins anew, with everything forgotten"});
  }
}

TEST_CASE(
    "a program with nothing left to do is there again after a power failure, and a stopped one is not") {
  MasterSpec master = plc({write_at(1s, {{kSetpoint, 0.0}})});
  master.restarts = {{at(5s), 1s}};
  CHECK(writes_of(played(master, 20s, always)) == Lines{"1 field 1 write 48 = 0", "7 field 1 write 48 = 0"});
  master.stops = at(5500ms);
  CHECK(writes_of(played(master, 20s, always)) == Lines{"1 field 1 write 48 = 0"});
}

}  // namespace
}  // namespace emberline::rehearsal
