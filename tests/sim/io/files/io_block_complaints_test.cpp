#include <doctest/doctest.h>

#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

// The expected lines were read one by one when they were written: place, what is wrong, what was expected.

TEST_CASE("what is wrong with an io-block is told where it stands") {
  const test::Breakage cases[] = {
      {"a coil that drives a signal", "0: soak-heater.terminal.enable", "0: soak-heater.setpoint",
       "bench.yaml:27:17: 0: expected UNIT.terminal.enable, UNIT.terminal.reset or CONTACTOR.closed: coils "
       "drive nothing else, found 'soak-heater.setpoint'"},
      {"a coil of a signal nobody defined", "8: main.closed", "8: mian.closed",
       "bench.yaml:27:49: 8: unknown signal 'mian.closed', did you mean 'main.closed'?"},
      {"two coils for one contactor", "8: main.closed", "8: main.closed, 9: main.closed",
       "bench.yaml:27:65: 9: 'main.closed' is driven by marshalling.coil.8 already"},
      {"one address twice", "8: main.closed", "8: main.closed, 0x8: main.closed",
       "bench.yaml:27:62: address 0x8 stands twice"},
      {"an address that is none", "8: main.closed", "-1: main.closed",
       "bench.yaml:27:46: expected a zero-based address from 0 to 65535, found '-1'"},
      {"a discrete input of a quantity", "0: soak-heater.relay.K1", "0: soak-heater.load_power",
       "bench.yaml:28:20: 0: expected a signal that is on or off (a terminal, a relay, a contactor, a coil), "
       "found 'soak-heater.load_power'"},
      {"an input of an input", "1: soak.temperature", "1: marshalling.input.0",
       "bench.yaml:29:73: 1: 'marshalling.input.0' is an input of an io-block: name the signal it carries"},
      {"a scale in another unit", "scale: 0.1 degC", "scale: 0.1 A",
       "bench.yaml:29:58: scale: 'A' is no unit for a temperature: expected a temperature such as '540 "
       "degC'"},
      {"a bit in an input register", "as: s16", "as: bit",
       "bench.yaml:29:46: as: unknown word 'bit'; known: u16, s16, u32, s32, u64, f32"},
      {"registers that overlap", "as: s16, scale: 0.1 degC", "as: f32",
       "bench.yaml:29:53: address 1 is the second register of 'soak.measured'"},
      {"a point nobody defined", "1: soak.temperature", "1: soak-heater.load_curent",
       "bench.yaml:29:73: 1: unknown signal 'soak-heater.load_curent', did you mean "
       "'soak-heater.load_current'?"},
      {"a block without lines", "    lines: [ethernet]\n", "",
       "bench.yaml:23:3: marshalling: key 'lines' is missing, expected the lines it is on, such as [field]"},
      {"holding registers of a block", "    outputs_off_after: 10 s", "    holding: { 0: soak.measured }",
       "bench.yaml:26:5: 'holding' is not there yet; known now: id, lines, identity, turnaround, "
       "outputs_off_after, "
       "coils, "
       "discrete, input"},
      {"three problems at once",
       "current: 63 A }\n"
       "    firing: { mode: phase-angle, ramp: 500 ms }",
       "current: 63 }\n"
       "    firing: { mode: phase-angle, ramp: 500 }\n"
       "    colour: red",
       "bench.yaml:14:40: current: '63' has no unit of measure: expected a current such as '50 A'\n"
       "bench.yaml:15:40: ramp: '500' has no unit of measure: expected a time such as '3 s'\n"
       "bench.yaml:16:5: unknown key 'colour'; known: copies, id, lines, identity, registers, rating, load, "
       "firing, control, limits, heat_sink, fuse, protections, comms_loss, relays, intake, turnaround, "
       "start_up, "
       "averaging, local_setpoint"},
  };
  test::check_breakages(cases, "bench.yaml");
}
