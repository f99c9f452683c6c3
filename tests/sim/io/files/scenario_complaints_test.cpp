#include <doctest/doctest.h>

#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

// The expected lines were read one by one when they were written: place, what is wrong, what was expected.

TEST_CASE("what is wrong with a timeline or an expectation is told where it stands") {
  const test::Breakage cases[] = {
      {"an unknown key", "clock: stepped", "clok: stepped",
       "scenario.yaml:4:1: unknown key 'clok', did you mean 'clock'?"},
      {"no end", "ends: 60 s\n", "",
       "scenario.yaml:1:1: key 'ends' is missing, expected when the run is over, such as '60 s'"},
      {"an empty list of expectations",
       "expect:\n"
       "  - { name: heats, from: 10 s, until: { cut: field }, always: { soak-heater.load_power: { above: 11 "
       "kW } } }\n"
       "  - { name: latches, after: { cut: field }, not_before: 900 ms, within: 3.1 s, that: { "
       "soak-heater.state: inhibited } }\n"
       "  - { name: comes back at zero, after: { restore: field }, first_write: { soak-heater.setpoint: { "
       "at_most: 0 % } } }\n",
       "expect: []\n", "scenario.yaml:20:9: expect: expected a list of expectations, found none"},
      {"a name that is taken", "name: latches", "name: heats",
       "scenario.yaml:22:13: name 'heats' is already used in line 21"},
      {"a reason with a control character", "why: The unit has to latch.",
       "why: \"The unit \\b has to latch.\"",
       "scenario.yaml:2:6: control characters cannot stand in a text, found 0x08"},
      {"an expectation's name with a control character", "name: latches", "name: \"latches\\rheats\"",
       "scenario.yaml:22:13: control characters cannot stand in a text, found 0x0D"},
      {"an expectation's name on two lines", "name: latches", "name: \"latches\\nheats\"",
       "scenario.yaml:22:13: name: expected a text on one line, found 'latches heats'"},
      {"an unknown clock", "clock: stepped", "clock: fast",
       "scenario.yaml:4:8: clock: unknown word 'fast'; known: stepped, wall"},
      {"a bench that is missing", "bench: bench.yaml", "bench: benches.yaml",
       "scenario.yaml:3:8: bench: benches.yaml: no such file"},
      {"a bench that is a table", "bench: bench.yaml", "bench: table.yaml",
       "scenario.yaml:3:8: bench: table.yaml: this is a register table, expected a bench"},
      {"nothing expected",
       "expect:\n"
       "  - { name: heats, from: 10 s, until: { cut: field }, always: { soak-heater.load_power: { above: 11 "
       "kW } } }\n"
       "  - { name: latches, after: { cut: field }, not_before: 900 ms, within: 3.1 s, that: { "
       "soak-heater.state: inhibited } }\n"
       "  - { name: comes back at zero, after: { restore: field }, first_write: { soak-heater.setpoint: { "
       "at_most: 0 % } } }\n",
       "",
       "scenario.yaml:1:1: key 'expect' is missing, and a rehearsal that expects nothing would pass by "
       "silence"},
      {"an unknown action", "  - { at: 30 s, restore: field }",
       "  - { at: 30 s, restore: field }\n"
       "  - { at: 40 s, ct: field }",
       "scenario.yaml:19:17: unknown action 'ct', did you mean 'cut'?"},
      {"a line nobody defined", "at: 20 s, cut: field", "at: 20 s, cut: feild",
       "scenario.yaml:19:22: 'cut' needs a line of the bench, found 'feild'; did you mean 'field'?"},
      {"an action that is over at once, for a while", "at: 20 s, cut: field",
       "at: 20 s, cycle: main, for: 10 s", "scenario.yaml:19:24: 'cycle' is over at once and takes no 'for'"},
      {"two actions in one", "at: 20 s, cut: field", "at: 20 s, cut: field, restore: ethernet",
       "scenario.yaml:19:29: an entry does one thing, found 'cut' and 'restore'"},
      {"no action", "at: 20 s, cut: field", "at: 20 s",
       "scenario.yaml:19:5: nothing is done here, expected an action such as 'cut: field', or 'ask'"},
      {"no time", "at: 20 s, cut: field", "cut: field",
       "scenario.yaml:19:5: when? expected 'at: 20 s', 'when: { soak.measured: { above: 540 degC } }' or "
       "'after: { cut: field }' beside what is done"},
      {"an anchor of an action nobody knows", "after: { restore: field }", "after: { restroe: field }",
       "scenario.yaml:23:42: unknown action 'restroe', did you mean 'restore'?"},
      {"an anchor of a line nobody defined", "after: { restore: field }", "after: { restore: feild }",
       "scenario.yaml:23:51: 'restore' needs a line of the bench, found 'feild'; did you mean 'field'?"},
      {"nth without a timeline", "from: 10 s", "from: 10 s, nth: 2",
       "scenario.yaml:21:32: nth: counts what can come again, so it needs an action such as { cut: field } "
       "or conditions under 'after' or 'from'"},
      {"an anchor of two things", "until: { cut: field }", "until: { cut: field, restore: field }",
       "scenario.yaml:21:53: one thing to wait for, found 'cut' and 'restore'"},
      {"an anchor that is a list", "until: { cut: field }", "until: [20 s]",
       "scenario.yaml:21:39: until: expected a time such as '10 s', an entry of the timeline such as { cut: "
       "field }, or conditions such as { soak-heater.state: running }, found a list"},
      {"from and after", "after: { cut: field }", "from: 3 s, after: { cut: field }",
       "scenario.yaml:22:22: 'from' and 'after' mean the same: leave one out"},
      {"two expectations in one", "that: { soak-heater.state: inhibited }",
       "that: { soak-heater.state: inhibited }, never: { soak-heater.state: running }",
       "scenario.yaml:22:120: one thing is expected at a time: found 'that' and 'never'"},
      {"no expectation", ", that: { soak-heater.state: inhibited }", "",
       "scenario.yaml:22:5: nothing is expected here: one of these is missing: that, eventually, always, "
       "never, comes, sequence, first_write, last_write, every_write, no_write, write_count, write_rate, "
       "poll_period, silence, retries, exceptions, read_back, read_before_write"},
      {"within of an always", "until: { cut: field }", "until: { cut: field }, within: 3 s",
       "scenario.yaml:21:55: within: says when something comes; how long it stays says 'for', found "
       "'always'"},
      {"not before but later than within", "not_before: 900 ms", "not_before: 4 s",
       "scenario.yaml:22:57: not_before: '4 s' is later than 'within' allows"},
      {"no name", "name: heats, ", "",
       "scenario.yaml:21:5: expect: key 'name' is missing, the sentence that will be passed or failed"},
      {"a signal nobody defined", "soak-heater.load_power", "soak-heater.load_powr",
       "scenario.yaml:21:65: unknown signal 'soak-heater.load_powr', did you mean 'soak-heater.load_power'?"},
      {"a state nobody knows", "soak-heater.state: inhibited", "soak-heater.state: inhibted",
       "scenario.yaml:22:107: soak-heater.state: unknown word 'inhibted', did you mean 'inhibited'?"},
      {"a size of a state", "soak-heater.state: inhibited", "soak-heater.state: { above: running }",
       "scenario.yaml:22:109: soak-heater.state: only a quantity can be compared by size: expected 'equals' "
       "or 'not'"},
      {"include of a quantity", "above: 11 kW", "include: comms-loss",
       "scenario.yaml:21:91: soak-heater.load_power: only warnings and trips include or exclude anything"},
      {"a comparator nobody knows", "above: 11 kW", "abov: 11 kW",
       "scenario.yaml:21:91: unknown key 'abov', did you mean 'above'?"},
      {"two comparators", "above: 11 kW", "above: 11 kW, below: 20 kW",
       "scenario.yaml:21:105: one comparator a signal, found 'above' and 'below'; 'between' has two ends"},
      {"near without tolerance", "above: 11 kW", "near: 11 kW",
       "scenario.yaml:21:65: soak-heater.load_power: key 'tolerance' is missing, expected how near, such as "
       "'1 %'"},
      {"tolerance without near", "above: 11 kW", "above: 11 kW, tolerance: 1 kW",
       "scenario.yaml:21:105: tolerance: only 'near' has a tolerance"},
      {"between upside down", "above: 11 kW", "between: [12 kW, 11 kW]",
       "scenario.yaml:21:100: between: the lower end comes first"},
      {"between of one", "above: 11 kW", "between: [12 kW]",
       "scenario.yaml:21:100: between: expected two ends such as [1 A, 2 A], found a list"},
      {"a value in another unit", "above: 11 kW", "above: 11 A",
       "scenario.yaml:21:98: above: 'A' is no unit for a power: expected a power such as '24 kW'"},
      {"a flag nobody knows", "soak-heater.state: inhibited", "soak-heater.warnings: { include: coms-loss }",
       "scenario.yaml:22:121: include: unknown word 'coms-loss', did you mean 'comms-loss'?"},
      {"a bit that no trip has", "soak-heater.state: inhibited", "soak-heater.trips: { exclude: 0x100 }",
       "scenario.yaml:22:118: exclude: expected names such as [comms-loss, over-current, phase-lost, "
       "fuse-open, heatsink-over-temperature, thyristor-shorted] or the sum of their bits, found '0x100'"},
      {"first_write of two", "{ soak-heater.setpoint: { at_most: 0 % } } }",
       "{ soak-heater.setpoint: { at_most: 0 % }, soak-heater.heartbeat: 1 } }",
       "scenario.yaml:23:115: first_write: one point at a time, found 2"},
      {"first_write of what nobody writes", "first_write: { soak-heater.setpoint: { at_most: 0 % } }",
       "first_write: { soak-heater.load_power: { at_most: 0 W } }",
       "scenario.yaml:23:75: first_write: 'soak-heater.load_power' is no point that a master could write"},
  };
  test::check_breakages(cases, "scenario.yaml");
}
