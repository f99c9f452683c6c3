#include <doctest/doctest.h>

#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

// The expected lines were read one by one when they were written: place, what is wrong, what was expected.

TEST_CASE("what is wrong with a stand-in is told where it stands") {
  const test::Breakage cases[] = {
      {"a stand-in with a name that is taken", "  plc:", "  field:",
       "scenario.yaml:7:3: name 'field' is taken by a line of the bench: lines, contactors, zones, units, "
       "io-blocks and stand-ins need different names"},
      {"a stand-in on a line nobody defined", "lines: [field, ethernet]", "lines: [field, ethernat]",
       "scenario.yaml:8:20: lines: unknown line 'ethernat', did you mean 'ethernet'?"},
      {"a stand-in off the line of its slave", "lines: [field, ethernet]", "lines: [field]",
       "scenario.yaml:12:29: write: 'marshalling.coil.0' cannot be reached over field, only over ethernet\n"
       "scenario.yaml:12:53: write: 'marshalling.coil.8' cannot be reached over field, only over ethernet\n"
       "scenario.yaml:13:59: read: 'soak.measured' cannot be reached over field, only over ethernet\n"
       "scenario.yaml:14:60: from: 'soak.measured' cannot be reached over field, only over ethernet"},
      {"a program that is missing", "    program:\n", "    programm:\n",
       "scenario.yaml:11:5: unknown key 'programm', did you mean 'program'?"},
      {"a step that does nothing", "{ every: 2 s, read: [soak-heater.load_current_l1, soak.measured] }",
       "{ every: 2 s }",
       "scenario.yaml:13:9: a step does one thing, expected exactly one of 'read', 'write', 'control', "
       "'ramp', 'count' and 'poll'"},
      {"a step that does two things", "every: 2 s, read: [",
       "every: 2 s, write: { soak-heater.setpoint: 1 % }, read: [",
       "scenario.yaml:13:9: a step does one thing, expected exactly one of 'read', 'write', 'control', "
       "'ramp', 'count' and 'poll'"},
      {"a step without time", "every: 2 s, read: [", "read: [",
       "scenario.yaml:13:9: when? expected 'at: 1 s' or 'every: 2 s'"},
      {"a step with two times", "every: 2 s, read: [", "every: 2 s, at: 3 s, read: [",
       "scenario.yaml:13:11: a step runs 'at' a time or 'every' period, not both"},
      {"a step after the end", "at: 1 s, write", "at: 61 s, write",
       "scenario.yaml:12:15: at: '61 s' is after the end of the run"},
      {"a step after the stop", "retries: 2", "stops: 1 s",
       "scenario.yaml:12:15: at: '1 s' is after the program 'stops'"},
      {"a stop in another unit", "retries: 2", "stops: 25 m",
       "scenario.yaml:10:12: stops: 'm' is no unit for a time: expected a time such as '3 s'"},
      {"a stop without unit", "retries: 2", "stops: 25",
       "scenario.yaml:10:12: stops: '25' has no unit of measure: expected a time such as '3 s'"},
      {"a stop at the start", "retries: 2", "stops: 0 s",
       "scenario.yaml:10:12: stops: '0 s' must be above 0"},
      {"a stop before the start", "retries: 2", "stops: -1 s",
       "scenario.yaml:10:12: stops: '-1 s' must be above 0"},
      {"a loop without integral part, written as zero", "integral_time: 120 s", "integral_time: 0 s",
       "scenario.yaml:14:121: integral_time: '0 s' must be above 0; a loop without integral part leaves the "
       "key out"},
      {"a period too short", "every: 2 s, read: [", "every: 1 us, read: [",
       "scenario.yaml:13:18: every: expected a period of 1 ms or more, found '1 us'"},
      {"a loop that runs once", "every: 2 s, control", "at: 2 s, control",
       "scenario.yaml:14:11: this runs again and again: expected 'every' instead of 'at'"},
      {"a loop on a current", "from: soak.measured", "from: soak-heater.load_current_l1",
       "scenario.yaml:14:60: from: control of 'soak-heater.load_current_l1' is not there yet; known now: "
       "temperatures"},
      {"a gain in another unit", "gain: 4 %/K", "gain: 4 %",
       "scenario.yaml:14:99: gain: '%' is no unit for a gain: expected a gain such as '4 %/K'"},
      {"a point that is not in the table", "soak-heater.load_current_l1, soak",
       "soak-heater.load_current_l2, soak",
       "scenario.yaml:13:30: read: 'soak-heater.load_current_l2' is not in the register table 'Test table'"},
      {"a signal no io-block carries", "soak-heater.load_current_l1, soak",
       "soak-heater.terminal.enable, soak",
       "scenario.yaml:13:30: read: 'soak-heater.terminal.enable' is not carried by any io-block, so no "
       "master can read it"},
      {"a signal that is none", "soak-heater.load_current_l1, soak", "soak-heater.load, soak",
       "scenario.yaml:13:30: read: unknown signal 'soak-heater.load'; 'soak-heater' has: setpoint, "
       "setpoint_local, setpoint_active, setpoint_source, output, firing_angle, duty, load_voltage, "
       "load_voltage_l1, load_voltage_l2, load_voltage_l3, load_current, ..."},
      {"a write of what is read-only", "marshalling.coil.8: on", "soak-heater.load_current_l1: 3 A",
       "scenario.yaml:12:53: write: 'soak-heater.load_current_l1' is read-only in the register table 'Test "
       "table'"},
      {"a write of an input", "marshalling.coil.8: on", "marshalling.discrete.0: on",
       "scenario.yaml:12:53: write: 'marshalling.discrete.0' is an input and cannot be written by a master"},
      {"a write of a wire", "marshalling.coil.8: on", "main.closed: on",
       "scenario.yaml:12:53: write: 'main.closed' is not written itself: write the coil that drives it, "
       "'marshalling.coil.8'"},
      {"a write in another unit", "soak-heater.setpoint: 0 %", "soak-heater.setpoint: 0 A",
       "scenario.yaml:16:49: soak-heater.setpoint: 'A' is no unit for a percentage: expected a percentage "
       "such as '50 %'"},
      {"a write of half a switch", "marshalling.coil.8: on", "marshalling.coil.8: half",
       "scenario.yaml:12:73: marshalling.coil.8: expected on or off (or closed/open, true/false, 1/0), found "
       "'half'"},
      {"lost after nothing", "after: 3 failures", "after: 0 failures",
       "scenario.yaml:15:25: after: expected a whole number from 1 to 1000000 failures, found '0 failures'"},
      {"lost after minutes", "after: 3 failures", "after: 3 minutes",
       "scenario.yaml:15:25: after: expected a whole number from 1 to 1000000 failures, found '3 minutes'"},
      {"back without lost", "    when_lost: { after: 3 failures, write: nothing }\n", "",
       "scenario.yaml:15:5: when_back: only a slave that was lost comes back, and 'when_lost: { after: 3 "
       "failures }' says when that is"},
      {"a problem in the bench", "voltage: 400 V, frequency", "voltage: 400, frequency",
       "bench.yaml:2:41: voltage: '400' has no unit of measure: expected a voltage such as '400 V'",
       "bench.yaml"},
      {"a problem in the register table", "scale: 0.1 A", "scale: 0.1 V",
       "table.yaml:7:59: scale: 'V' is no unit for a current: expected a current such as '50 A'",
       "table.yaml"},
  };
  test::check_breakages(cases, "scenario.yaml");
}
