#include <string>

#include <doctest/doctest.h>

#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

// The expected lines were read one by one when they were written: place, what is wrong, what was expected.

TEST_CASE("what is wrong with a unit is told where it stands") {
  const auto too_long = "    id: 1\n    identity: { model_name: " + std::string(245, 'm') + " }\n";
  const test::Breakage cases[] = {
      {"no id", "    id: 1\n", "",
       "bench.yaml:10:3: soak-heater: key 'id' is missing, expected a unit id from 1 to 247"},
      {"a signal without a dot", "1: soak.temperature", "1: soak",
       "bench.yaml:29:73: 1: unknown signal 'soak'; 'soak' has: temperature, measured"},
      {"a signal of nothing known", "1: soak.temperature", "1: kiln.temperature",
       "bench.yaml:29:73: 1: unknown signal 'kiln.temperature': the bench has no 'kiln', it has: "
       "soak-heater, supply, main, soak, marshalling, field, ethernet"},
      {"a hexadecimal id beyond the last", "    id: 1\n", "    id: 0xF8\n",
       "bench.yaml:11:9: id: expected a whole number from 1 to 247, found '0xF8'"},
      {"a hexadecimal id without digits", "    id: 1\n", "    id: 0x\n",
       "bench.yaml:11:9: id: expected a whole number from 1 to 247, found '0x'"},
      {"a hexadecimal id with a sign", "    id: 1\n", "    id: 0x-1\n",
       "bench.yaml:11:9: id: expected a whole number from 1 to 247, found '0x-1'"},
      {"several missing keys",
       "    rating: { voltage: 400 V, current: 63 A }\n"
       "    firing: { mode: phase-angle, ramp: 500 ms }\n"
       "    control: { variable: power, full_scale: 24 kW }\n",
       "",
       "bench.yaml:10:3: soak-heater: key 'rating' is missing, expected one such as { voltage: 400 V, "
       "current: 63 A }\n"
       "bench.yaml:10:3: soak-heater: key 'firing' is missing, expected one such as { mode: burst-spread }\n"
       "bench.yaml:10:3: soak-heater: key 'control' is missing, expected one such as { variable: power, "
       "full_scale: 24 kW }"},
      {"an identity that is no mapping", "    id: 1\n", "    id: 1\n    identity: Emberline\n",
       "bench.yaml:12:15: identity: expected keys and values such as { product_code: hall-heater, revision: "
       "'2.1' "
       "}"},
      {"an identity with a key that is meant otherwise", "    id: 1\n",
       "    id: 1\n    identity: { vendor: Emberline }\n",
       "bench.yaml:12:17: unknown key 'vendor'; known: vendor_name, product_code, revision, vendor_url, "
       "product_name, model_name, application_name, private"},
      {"an object that is no ASCII", "    id: 1\n",
       "    id: 1\n    identity: { model_name: Gl\u00fchofen }\n",
       "bench.yaml:12:29: model_name: expected plain ASCII characters, found others"},
      {"an object that no answer holds", "    id: 1\n", too_long.c_str(),
       "bench.yaml:12:29: model_name: has 245 characters; an answer holds 244"},
      {"a private object with a reserved id", "    id: 1\n",
       "    id: 1\n    identity: { private: { 0x7F: a, 256: b, 0x: c, 0x80: d, 128: e } }\n",
       "bench.yaml:12:28: expected an object id from 0x80 to 0xFF, found '0x7F'\n"
       "bench.yaml:12:37: expected an object id from 0x80 to 0xFF, found '256'\n"
       "bench.yaml:12:45: expected an object id from 0x80 to 0xFF, found '0x'\n"
       "bench.yaml:12:61: object 128 stands twice"},
      {"private objects without ids", "    id: 1\n", "    id: 1\n    identity: { private: hall }\n",
       "bench.yaml:12:26: private: expected private objects such as { 0x80: hall 2 }, found 'hall'"},
      {"a register table that is missing", "registers: table.yaml", "registers: tables.yaml",
       "bench.yaml:13:16: registers: tables.yaml: no such file"},
      {"a register table that is a bench", "registers: table.yaml", "registers: bench.yaml",
       "bench.yaml:13:16: registers: bench.yaml: this is a bench, expected a register table"},
      {"a mode with a slip of the pen", "mode: phase-angle", "mode: phase-angel",
       "bench.yaml:15:21: mode: unknown word 'phase-angel', did you mean 'phase-angle'?"},
      {"an angle in burst firing", "mode: phase-angle, ramp: 500 ms", "mode: burst-spread, angle: 68 deg",
       "bench.yaml:15:35: angle: only phase-angle firing can hold an angle"},
      {"an angle beyond the half-wave", "ramp: 500 ms", "angle: 200 deg",
       "bench.yaml:15:41: angle: expected an angle from 0 deg to 180 deg, found '200 deg'"},
      {"a drop under load and firing",
       "ramp: 500 ms }\n"
       "    control: { variable: power, full_scale: 24 kW }\n"
       "    limits: { current: 50 A }\n"
       "    comms_loss: { lines: [field], timeout: 3 s, policy: latch-to-inhibit }\n"
       "    relays: { K1: { on: [comms-loss] } }\n"
       "    intake: { largest_block: 12, reads_per_second: 5 }\n"
       "    load: {",
       "thyristor_drop: 1 V }\n"
       "    control: { variable: power, full_scale: 24 kW }\n"
       "    limits: { current: 50 A }\n"
       "    comms_loss: { lines: [field], timeout: 3 s, policy: latch-to-inhibit }\n"
       "    relays: { K1: { on: [comms-loss] } }\n"
       "    intake: { largest_block: 12, reads_per_second: 5 }\n"
       "    load: { thyristor_drop: 1 V,",
       "bench.yaml:15:34: thyristor_drop: stands under 'load' already: leave one out"},
      {"no full scale", ", full_scale: 24 kW", "",
       "bench.yaml:16:5: control: key 'full_scale' is missing, expected what a setpoint of 100 % stands for"},
      {"full scale in another unit", "full_scale: 24 kW", "full_scale: 400 V",
       "bench.yaml:16:45: full_scale: 'V' is no unit for a power: expected a power such as '24 kW'"},
      {"full scale in open loop", "variable: power", "variable: open-loop",
       "bench.yaml:16:37: full_scale: open-loop sets the output directly and has no full scale: leave it "
       "out"},
      {"an unknown variable", "variable: power", "variable: powr",
       "bench.yaml:16:26: variable: unknown word 'powr', did you mean 'power'?"},
      {"no timeout", "timeout: 3 s, ", "",
       "bench.yaml:18:5: comms_loss: key 'timeout' is missing, it has no default, because how long a heater "
       "runs on when nobody commands it has to be decided: for instance '3 s', or '0 s' for no supervision "
       "at all"},
      {"no policy", ", policy: latch-to-inhibit", "",
       "bench.yaml:18:5: comms_loss: key 'policy' is missing, expected 'hold-last-command', "
       "'latch-to-inhibit' or 'go-to-preset'"},
      {"a policy with a slip of the pen", "latch-to-inhibit", "latch-to-inhibt",
       "bench.yaml:18:57: policy: unknown word 'latch-to-inhibt', did you mean 'latch-to-inhibit'?"},
      {"no lines for the watchdog", "comms_loss: { lines: [field], ", "comms_loss: { ",
       "bench.yaml:18:5: comms_loss: key 'lines' is missing, the unit has more than one line, and a dead PLC "
       "must not hide behind somebody else's polling: say which lines count"},
      {"a line of somebody else", "comms_loss: { lines: [field]", "comms_loss: { lines: [serial]",
       "bench.yaml:18:27: lines: the unit is not on line 'serial'; its lines: field, ethernet"},
      {"a preset under another policy", "policy: latch-to-inhibit", "policy: latch-to-inhibit, preset: 20 %",
       "bench.yaml:18:75: preset: only 'policy: go-to-preset' has a preset"},
      {"no preset", "policy: latch-to-inhibit", "policy: go-to-preset",
       "bench.yaml:18:5: comms_loss: key 'preset' is missing, expected the setpoint to go to, such as '20 "
       "%'"},
      {"a preset beyond 100 %", "policy: latch-to-inhibit", "policy: go-to-preset, preset: 120 %",
       "bench.yaml:18:79: preset: expected a percentage from 0 % to 100 %, found '120 %'"},
      {"a reset nobody knows", "policy: latch-to-inhibit",
       "policy: latch-to-inhibit, reset_by: [enable-cycle, power-cycle]",
       "bench.yaml:18:100: reset_by: unknown word 'power-cycle'; known: enable-cycle, reset-terminal, "
       "reset-register"},
      {"a reset register the table has not", "policy: latch-to-inhibit",
       "policy: latch-to-inhibit, reset_by: [reset-register]",
       "bench.yaml:18:86: reset_by: the register table has no 'reset' that could be written"},
      {"a heartbeat the table has not", "policy: latch-to-inhibit",
       "policy: latch-to-inhibit, feeds: heartbeat",
       "bench.yaml:18:82: feeds: the register table has no 'heartbeat' that could be written"},
      {"restored after nothing", "policy: latch-to-inhibit", "policy: latch-to-inhibit, restored_after: 0",
       "bench.yaml:18:91: restored_after: expected a whole number from 1 to 1000 frames, found '0'"},
      {"a negative timeout", "timeout: 3 s", "timeout: -3 s",
       "bench.yaml:18:44: timeout: '-3 s' must not be negative"},
      {"a relay on nothing known", "on: [comms-loss]", "on: [coms-loss]",
       "bench.yaml:19:26: on: unknown warning or trip 'coms-loss', did you mean 'comms-loss'?"},
      {"a relay without a cause", "{ on: [comms-loss] }", "{ coil: energised-on-alarm }",
       "bench.yaml:19:15: K1: key 'on' is missing, expected the warnings or trips it acts on"},
      {"a relay with a dot", "relays: { K1: {", "relays: { K.2: { on: [comms-loss] }, K1: {",
       "bench.yaml:19:15: 'K.2' cannot be the name of a relay: expected letters, digits, '-' and '_'"},
      {"an intake that sulks", "reads_per_second: 5", "reads_per_second: 5, beyond: dela",
       "bench.yaml:20:63: beyond: unknown word 'dela', did you mean 'delay'?"},
      {"a block of nothing", "largest_block: 12", "largest_block: 0",
       "bench.yaml:20:30: largest_block: expected a whole number from 1 to 125 registers, found '0'"},
      {"half a register", "largest_block: 12", "largest_block: 1.5",
       "bench.yaml:20:30: largest_block: expected a whole number from 1 to 125 registers, found '1.5'"},
      {"another unit behind a number", "largest_block: 12", "largest_block: 12 bytes",
       "bench.yaml:20:30: largest_block: expected a whole number from 1 to 125 registers, found '12 bytes'"},
      {"an element count that is none", "4 in parallel", "four in parallel",
       "bench.yaml:21:48: elements: expected a whole number from 1 to 10000, found 'four'"},
      {"elements neither parallel nor series", "4 in parallel", "4 in a row",
       "bench.yaml:21:48: elements: expected a number of elements such as '4 in parallel', '3 in series' or "
       "'1', found '4 in a row'"},
      {"several elements without grouping", "4 in parallel", "4",
       "bench.yaml:21:48: elements: expected a number of elements such as '4 in parallel', '3 in series' or "
       "'1', found '4'"},
      {"an unknown material", "cold_resistance: 22 ohm", "cold_resistance: 22 ohm, material: nickel-chrome",
       "bench.yaml:21:98: material: unknown material 'nickel-chrome', did you mean 'nickel-chromium'?"},
      {"a zone nobody defined", "heats: soak", "heats: soka",
       "bench.yaml:21:95: heats: unknown zone 'soka', did you mean 'soak'?"},
      {"an element without zone", ", heats: soak", ", element: { heat_capacity: 900 J/K, coupling: 40 W/K }",
       "bench.yaml:21:88: element: without 'heats: ZONE' an element stays at 20 degC, so it needs no heat "
       "capacity"},
      {"a local setpoint that is no percentage", "    limits: { current: 50 A }",
       "    local_setpoint: soak.measured",
       "bench.yaml:17:21: local_setpoint: expected a signal that is a percentage, found 'soak.measured'"},
      {"a local setpoint nobody defined", "    limits: { current: 50 A }",
       "    local_setpoint: soak-heater.output_",
       "bench.yaml:17:21: local_setpoint: unknown signal 'soak-heater.output_', did you mean "
       "'soak-heater.output'?"},
      {"a local setpoint without unit", "    limits: { current: 50 A }", "    local_setpoint: 30",
       "bench.yaml:17:21: local_setpoint: '30' has no unit of measure: expected a percentage such as '50 %'"},
      {"less than a cycle of averaging", "    limits: { current: 50 A }", "    averaging: 5 ms",
       "bench.yaml:17:16: averaging: expected at least one mains cycle, found '5 ms'"},
  };
  test::check_breakages(cases, "bench.yaml");
}
