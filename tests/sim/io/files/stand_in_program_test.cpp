#include <chrono>
#include <string>
#include <string_view>

#include <doctest/doctest.h>

#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;
using namespace std::chrono_literals;

// States, alarms, curves and manners of stand-ins: what is read of a file, and what is told of mistakes. The
// expected lines were read one by one when they were written.

namespace {

constexpr const char* kProgram = R"(scenario: States
bench: bench.yaml
ends: 60 s
masters:
  plc:
    lines: [field, ethernet]
    retries: 2
    retry_after: 200 ms
    poll_lost_every: 10 s
    serial: 9600 8N1
    starts: 5 s
    stops: 50 s
    restarts: [{ at: 20 s, after: 2 s }, { at: 30 s, after: 3 s }]
    program:
      - { every: 2 s, read: [soak-heater.state, soak.measured] }
      - { every: 1 s, ramp: { soak-heater.setpoint: { from: 0 %, to: 60 %, over: 30 s } }, on_change: yes }
    states:
      idle:
        program: [{ every: 1 s, count: soak-heater.comms_count }]
        go: [{ to: heat, after: 4 s }]
      heat:
        program:
          - { every: 2 s, control: soak-heater.setpoint, from: soak.measured, profile: [{ to: 560 degC, rate: 180 K/h }, { hold: 30 min }], gain: 4 %/K, integral_time: 90 s, at_least: 5 %, at_most: 80 %, stale: use-last, wind_up: allowed, while_lost: integrate, when: { soak.measured: { below: 700 degC } } }
        go: [{ to: safe, when: { soak-heater.state: inhibited, lost: soak-heater }, for: 2 s }]
      safe: { on_entry: { write: { soak-heater.setpoint: 0 % } }, go: [{ to: heat, when: { back: [soak-heater] } }] }
    starts_in: idle
    alarms:
      - { name: hot, when: { refused: marshalling }, for: 1 s, write: { marshalling.coil.8: off }, go: safe, clears: { write: { marshalling.coil.8: on } } }
    when_lost: { after: 3, go: safe }
    when_back: { go: idle }
expect:
  - { name: runs, that: { soak-heater.state: running } }
)";

/// The sample table with a number to count in.
std::string table() {
  return test::replaced(test::kTable, "holding:\n",
                        "holding:\n  - { at: 0x0020, point: heartbeat, as: u16, access: read-write }\n");
}

std::string good() { return test::replaced(kProgram, "soak-heater.comms_count", "soak-heater.heartbeat"); }

struct Mistake {
  const char* what;
  const char* from;
  const char* to;
  const char* expected;
};

void check(std::span<const Mistake> mistakes) {
  const test::Workspace workspace;
  workspace.write("bench.yaml", test::kBench);
  workspace.write("table.yaml", table());
  for (const auto& [what, from, to, expected] : mistakes) {
    CAPTURE(std::string(what));
    workspace.write("scenario.yaml", test::replaced(good(), from, to));
    std::string all;
    for (const auto& line : workspace.complaints("scenario.yaml")) all += (all.empty() ? "" : "\n") + line;
    CHECK(all == std::string(expected));
  }
}

}  // namespace

TEST_CASE("what a file says of a stand-in's states, alarms and manners is what it will do") {
  const test::Workspace workspace;
  workspace.write("bench.yaml", test::kBench);
  workspace.write("table.yaml", table());
  const auto loaded = io::load_scenario(workspace.write("scenario.yaml", good()));
  if (!loaded) FAIL(workspace.lines(loaded.error()).front());
  const auto& plc = loaded->masters.at(0);
  CHECK(plc.retry_after == 200ms);
  CHECK(plc.poll_lost_every == Duration{10s});
  CHECK(plc.serial == SerialFormat{9600, 8, 'N', 1});
  CHECK(plc.starts == SimTime{5s});
  CHECK(plc.stops == SimTime{50s});
  REQUIRE(plc.restarts.size() == 2);
  CHECK(plc.restarts[1].at == SimTime{30s});
  CHECK(plc.restarts[1].after == 3s);

  REQUIRE(plc.program.size() == 2);
  const auto& ramp = plc.program[1];
  CHECK(ramp.kind == rehearsal::ProgramStep::Kind::ramp);
  CHECK(ramp.on_change);
  REQUIRE(ramp.ramps.size() == 1);
  CHECK(ramp.ramps[0].target.name == "soak-heater.setpoint");
  CHECK(ramp.ramps[0].from == 0.0);
  CHECK(ramp.ramps[0].to == doctest::Approx(0.6));
  CHECK(ramp.ramps[0].over == 30s);

  REQUIRE(plc.states.size() == 3);
  CHECK(plc.states[0].name == "idle");
  CHECK(plc.starts_in == 0);
  CHECK(plc.states[0].program.at(0).kind == rehearsal::ProgramStep::Kind::count);
  CHECK(plc.states[0].program.at(0).output.value().name == "soak-heater.heartbeat");
  CHECK(plc.states[0].go.at(0).to == 1);
  CHECK(plc.states[0].go.at(0).after == Duration{4s});
  CHECK(plc.states[2].on_entry.at(0).target.name == "soak-heater.setpoint");
  const auto& way = plc.states[1].go.at(0);
  CHECK(way.to == 2);
  CHECK(way.holds_for == 2s);
  REQUIRE(way.when.readings.size() == 1);
  CHECK(way.when.readings[0].name == "soak-heater.state");
  REQUIRE(way.when.slaves.size() == 1);
  CHECK(way.when.slaves[0].kind == rehearsal::SlaveCondition::Kind::lost);
  CHECK_FALSE(way.when.slaves[0].io_block);
  CHECK(plc.states[2].go.at(0).when.slaves.at(0).kind == rehearsal::SlaveCondition::Kind::back);

  const auto& control = plc.states[1].program.at(0);
  REQUIRE(control.profile.size() == 2);
  CHECK(control.profile[0].to_degC == 560.0);
  CHECK(control.profile[0].rate_K_per_s == doctest::Approx(0.05));  // 180 K in 3600 s
  CHECK(control.profile[1].hold == 30min);
  CHECK(control.at_least == doctest::Approx(0.05));
  CHECK(control.at_most == doctest::Approx(0.8));
  CHECK(control.stale == rehearsal::ProgramStep::Stale::use_last);
  CHECK(control.winds_up);
  CHECK(control.integrates_while_lost);
  CHECK(control.when.readings.at(0).a == 700.0);

  REQUIRE(plc.alarms.size() == 1);
  CHECK(plc.alarms[0].name == "hot");
  CHECK(plc.alarms[0].when.slaves.at(0).io_block);
  CHECK(plc.alarms[0].holds_for == 1s);
  CHECK(plc.alarms[0].writes.at(0).value == 0.0);
  CHECK(plc.alarms[0].go == std::size_t{2});
  CHECK(plc.alarms[0].clears_writes.at(0).value == 1.0);
  CHECK(plc.when_lost_go == std::size_t{2});
  CHECK(plc.when_back_go == std::size_t{0});
}

TEST_CASE("a stand-in begins in the first state of the file if nothing else is said") {
  const test::Workspace workspace;
  workspace.write("bench.yaml", test::kBench);
  workspace.write("table.yaml", table());
  const auto text = test::replaced(good(), "    starts_in: idle\n", "");
  const auto loaded = io::load_scenario(workspace.write("scenario.yaml", text));
  REQUIRE(loaded);
  CHECK(loaded->masters.at(0).starts_in == 0);
}

TEST_CASE("what is wrong with states and alarms is told where it stands") {
  const Mistake mistakes[] = {
      {"a state that is not there", "{ to: heat, after: 4 s }", "{ to: heet, after: 4 s }",
       "scenario.yaml:20:20: to: unknown state 'heet', did you mean 'heat'?"},
      {"a beginning that is not there", "starts_in: idle", "starts_in: warm",
       "scenario.yaml:26:16: starts_in: unknown state 'warm'; known: idle, heat, safe"},
      {"a loss that leads nowhere", "{ after: 3, go: safe }", "{ after: 3, go: save }",
       "scenario.yaml:29:32: go: unknown state 'save', did you mean 'safe'?"},
      {"a way out almost at once", "{ to: heat, after: 4 s }", "{ to: heat, after: 10 us }",
       "scenario.yaml:20:33: after: expected a time of 1 ms or more, found '10 us'"},
      {"a way out at no time", "{ to: heat, after: 4 s }", "{ to: heat }",
       "scenario.yaml:20:14: when? expected 'after: 5 s' or 'when: { soak.measured: { above: 540 degC } }'"},
      {"a way out at two", "after: 4 s", "after: 4 s, when: { lost: soak-heater }",
       "scenario.yaml:20:38: a way out has 'after' or 'when', not both"},
      {"a way out at once", "after: 4 s", "after: 0 s", "scenario.yaml:20:33: after: '0 s' must be above 0"},
      {"a time that has to hold", "after: 4 s", "after: 4 s, for: 1 s",
       "scenario.yaml:20:38: for: goes with 'when' only"},
      {"a condition on what is never read", "soak-heater.state: inhibited,", "soak-heater.stat: inhibited,",
       "scenario.yaml:24:34: unknown signal 'soak-heater.stat', did you mean 'soak-heater.state'?"},
      {"a condition on what is read nowhere", "soak-heater.state: inhibited,",
       "soak-heater.trips: { include: comms-loss },",
       "scenario.yaml:24:34: when: 'soak-heater.trips' is never read in state 'heat', so that this could "
       "never hold; read there: soak-heater.state, soak.measured"},
      {"an alarm on what is read nowhere", "refused: marshalling", "soak.temperature: { above: 600 degC }",
       "scenario.yaml:28:30: when: 'soak.temperature' is never read, so that this could never hold; read "
       "there: soak-heater.state, soak.measured"},
      {"a slave that is not there", "lost: soak-heater }", "lost: soak-heter }",
       "scenario.yaml:24:70: lost: unknown unit or I/O block 'soak-heter', did you mean 'soak-heater'?"},
      {"an alarm with no name", "{ name: hot, when", "{ when",
       "scenario.yaml:28:9: alarms: key 'name' is missing, expected what the journal calls it"},
      {"an alarm for nothing", "when: { refused: marshalling }, for", "for",
       "scenario.yaml:28:9: alarms: key 'when' is missing, expected what it watches for"},
      {"a state that is entered by nothing to write", "on_entry: { write: { soak-heater.setpoint: 0 % } }",
       "on_entry: { write: nothing }",
       "scenario.yaml:25:34: write: expected values such as { soak-heater.setpoint: 50 % }, found 'nothing'"},
      {"a return that does nothing", "when_back: { go: idle }", "when_back: { }",
       "scenario.yaml:30:5: when_back: key 'write' is missing, expected what to write, or where to 'go'"},
  };
  check(mistakes);
}

TEST_CASE("a state nothing leads to is told, and one that only itself leads to") {
  const Mistake mistakes[] = {
      {"nothing", "      safe: {", "      spare: { }\n      safe: {",
       "scenario.yaml:25:7: nothing leads to state 'spare': expected a 'go' to it, or 'starts_in: spare'"},
      {"only itself", "      safe: {", "      spare: { go: [{ to: spare, after: 1 s }] }\n      safe: {",
       "scenario.yaml:25:7: nothing leads to state 'spare': expected a 'go' to it, or 'starts_in: spare'"},
  };
  check(mistakes);
}

TEST_CASE("words of states without states, and of losses that nobody counts, are told") {
  const test::Workspace workspace;
  workspace.write("bench.yaml", test::kBench);
  workspace.write("table.yaml", table());
  const std::string bare =
      "scenario: S\nbench: bench.yaml\nends: 60 s\nmasters:\n  plc:\n    lines: field\n    program: [{ "
      "every: 1 s, read: soak-heater.state }]\n";
  const std::string expect = "expect: [{ name: runs, that: { soak-heater.state: running } }]\n";
  struct Row {
    const char* words;
    std::vector<std::string> expected;
  };
  const Row rows[] = {
      {"    starts_in: idle\n",
       {"scenario.yaml:8:16: starts_in: there is no state 'idle', this stand-in has no 'states'"}},
      {"    alarms: [{ name: a, when: { lost: soak-heater } }]\n",
       {"scenario.yaml:8:39: lost: nothing counts as lost here without 'when_lost: { after: 3 failures }'"}},
      {"    alarms: [{ name: a, when: { refused: marshalling } }]\n",
       {"scenario.yaml:8:42: refused: this stand-in never asks 'marshalling' for anything"}},
      {"    alarms: [{ name: a, when: { } }]\n",
       {"scenario.yaml:8:31: when: expected conditions such as { soak-heater.state: running }, found none"}},
      {"    alarms: []\n",
       {"scenario.yaml:8:13: alarms: expected a list of alarms such as { name: too hot, when: { "
        "soak.measured: { above: 600 degC } } }, found none"}},
      {"    states: {}\n",
       {"scenario.yaml:8:13: states: expected states such as { idle: { go: [{ to: safe, after: 5 s }] } }, "
        "found none"}},
      {"    retry_after: 1 s\n",
       {"scenario.yaml:8:5: retry_after: there is no further try without 'retries'"}},
      {"    poll_lost_every: 1 s\n",
       {"scenario.yaml:8:5: poll_lost_every: nothing counts as lost here without 'when_lost: { after: 3 "
        "failures }'"}},
  };
  for (const auto& [words, expected] : rows) {
    CAPTURE(std::string(words));
    workspace.write("scenario.yaml", bare + words + expect);
    const auto complaints = workspace.complaints("scenario.yaml");
    CHECK(complaints == expected);
    if (complaints != expected && !complaints.empty()) MESSAGE(complaints.front());
  }
}

TEST_CASE("what is wrong with steps, curves and times is told where it stands") {
  const Mistake mistakes[] = {
      {"a profile without rate", "{ to: 560 degC, rate: 180 K/h }", "{ to: 560 degC }",
       "scenario.yaml:23:89: profile: key 'rate' is missing, expected how fast, such as '200 K/h'"},
      {"a rate of nothing", "rate: 180 K/h", "rate: 0 K/h",
       "scenario.yaml:23:111: rate: '0 K/h' must be above 0"},
      {"a rate in another unit", "rate: 180 K/h", "rate: 180 K",
       "scenario.yaml:23:111: rate: 'K' is no unit for a heating rate: expected a heating rate such as '200 "
       "K/h'"},
      {"a part that is a ramp and a soak", "{ hold: 30 min }", "{ hold: 30 min, to: 3 degC }",
       "scenario.yaml:23:122: a part of a profile is a ramp or a soak, expected { to: 560 degC, rate: 200 "
       "K/h } or { hold: 30 min }"},
      {"a part that is nothing", "{ hold: 30 min }", "{ }",
       "scenario.yaml:23:122: a part of a profile is a ramp or a soak, expected { to: 560 degC, rate: 200 "
       "K/h } or { hold: 30 min }"},
      {"a soak with a rate", "{ hold: 30 min }", "{ hold: 30 min, rate: 1 K/s }",
       "scenario.yaml:23:138: rate: goes with 'to' only"},
      {"a target and a profile", "gain: 4 %/K", "target: 500 degC, gain: 4 %/K",
       "scenario.yaml:23:79: a loop has a 'target' or a 'profile', not both"},
      {"ends the wrong way round", "at_least: 5 %", "at_least: 85 %",
       "scenario.yaml:23:175: at_least: has to be below 'at_most'"},
      {"an end beyond everything", "at_most: 80 %", "at_most: 180 %",
       "scenario.yaml:23:199: at_most: expected 0 % to 100 %, found '180 %'"},
      {"a habit nobody has", "stale: use-last", "stale: use_last",
       "scenario.yaml:23:212: stale: unknown word 'use_last', did you mean 'use-last'?"},
      {"wind-up of nothing", "integral_time: 90 s, ", "",
       "scenario.yaml:23:201: wind_up: only an integral part can, and there is no 'integral_time'"},
      {"a ramp of a switch", "ramp: { soak-heater.setpoint: {", "ramp: { marshalling.coil.0: {",
       "scenario.yaml:16:31: ramp: only a quantity can move bit by bit, 'marshalling.coil.0' is none"},
      {"a ramp without time", "over: 30 s }", "}",
       "scenario.yaml:16:31: soak-heater.setpoint: key 'over' is missing, expected how long it takes, such "
       "as '30 s'"},
      {"a ramp that runs once", "{ every: 1 s, ramp", "{ at: 1 s, ramp",
       "scenario.yaml:16:11: this runs again and again: expected 'every' instead of 'at'"},
      {"a count in a percentage", "count: soak-heater.heartbeat", "count: soak-heater.setpoint",
       "scenario.yaml:19:40: count: expected a plain number to count in, such as UNIT.heartbeat, found "
       "'soak-heater.setpoint'"},
      {"a read on change", "read: [soak-heater.state, soak.measured] }",
       "read: [soak-heater.state, soak.measured], on_change: on }",
       "scenario.yaml:15:65: on_change: goes with 'write', 'ramp' and 'control' only"},
      {"a loop's word in another step", "count: soak-heater.heartbeat }",
       "count: soak-heater.heartbeat, stale: hold }", "scenario.yaml:19:63: stale: goes with 'control' only"},
      {"a start after the end", "starts: 5 s", "starts: 70 s",
       "scenario.yaml:11:13: starts: '70 s' is after the end of the run"},
      {"a stop before the start", "stops: 50 s", "stops: 4 s",
       "scenario.yaml:12:12: stops: '4 s' is not after it 'starts'"},
      {"a power failure in a power failure", "at: 30 s, after: 3 s", "at: 21 s, after: 3 s",
       "scenario.yaml:13:48: at: '21 s' has to be after it has begun, which is at 22 s"},
      {"a power failure after the end", "at: 30 s, after: 3 s", "at: 61 s, after: 3 s",
       "scenario.yaml:13:48: at: '61 s' is after the end of the run"},
      {"a serial format of no kind", "9600 8N1", "9600 7N1",
       "scenario.yaml:10:13: serial: Modbus RTU needs 8 data bits: expected a speed and a format such as "
       "'19200 8E1'"},
      {"a serial format for TCP", "lines: [field, ethernet]", "lines: [ethernet]",
       "scenario.yaml:10:5: serial: ethernet is reached over TCP"},
  };
  check(mistakes);
}
