#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/base/listed.hpp"
#include "sim/faults/action.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

namespace {

std::string all_action_words() {
  std::vector<std::string> words;
  for (const auto* kind : faults::all_actions()) words.emplace_back(kind->word);
  return listed(words);
}

}  // namespace

// The expected lines were read one by one when they were written: place, what is wrong, what was expected.

TEST_CASE("what is wrong with a timeline or an expectation is told where it stands") {
  const std::string later =
      "scenario.yaml:19:17: 'thyristor-open' is not there yet; known now: " + all_action_words();
  const std::string nothing_done =
      "scenario.yaml:19:5: nothing is done here, expected one of: " + all_action_words();
  const test::Breakage cases[] = {
      {"an unknown key", "scenario.yaml", "clock: stepped", "clok: stepped",
       "scenario.yaml:4:1: unknown key 'clok', did you mean 'clock'?"},
      {"no end", "scenario.yaml", "ends: 60 s\n", "",
       "scenario.yaml:1:1: key 'ends' is missing, expected when the run is over, such as '60 s'"},
      {"an empty list of expectations", "scenario.yaml",
       "expect:\n"
       "  - { name: heats, from: 10 s, until: { cut: field }, always: { soak-heater.load_power: { above: 11 "
       "kW } } }\n"
       "  - { name: latches, after: { cut: field }, not_before: 900 ms, within: 3.1 s, that: { "
       "soak-heater.state: inhibited } }\n"
       "  - { name: comes back at zero, after: { restore: field }, first_write: { soak-heater.setpoint: { "
       "at_most: 0 % } } }\n",
       "expect: []\n", "scenario.yaml:20:9: expect: expected a list of expectations, found none"},
      {"a name that is taken", "scenario.yaml", "name: latches", "name: heats",
       "scenario.yaml:22:13: name 'heats' is already used in line 21"},
      {"a reason with a control character", "scenario.yaml", "why: The unit has to latch.",
       "why: \"The unit \\b has to latch.\"",
       "scenario.yaml:2:6: control characters cannot stand in a text, found 0x08"},
      {"an expectation's name with a control character", "scenario.yaml", "name: latches",
       "name: \"latches\\rheats\"",
       "scenario.yaml:22:13: control characters cannot stand in a text, found 0x0D"},
      {"an expectation's name on two lines", "scenario.yaml", "name: latches", "name: \"latches\\nheats\"",
       "scenario.yaml:22:13: name: expected a text on one line, found 'latches heats'"},
      {"an unknown clock", "scenario.yaml", "clock: stepped", "clock: fast",
       "scenario.yaml:4:8: clock: unknown word 'fast'; known: stepped, wall"},
      {"a bench that is missing", "scenario.yaml", "bench: bench.yaml", "bench: benches.yaml",
       "scenario.yaml:3:8: bench: benches.yaml: no such file"},
      {"a bench that is a table", "scenario.yaml", "bench: bench.yaml", "bench: table.yaml",
       "scenario.yaml:3:8: bench: table.yaml: this is a register table, expected a bench"},
      {"nothing expected", "scenario.yaml",
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
      {"an unknown action", "scenario.yaml", "  - { at: 30 s, restore: field }",
       "  - { at: 30 s, restore: field }\n"
       "  - { at: 40 s, ct: field }",
       "scenario.yaml:19:17: unknown action 'ct', did you mean 'cut'?"},
      {"an action of later", "scenario.yaml", "  - { at: 30 s, restore: field }",
       "  - { at: 30 s, restore: field }\n"
       "  - { at: 40 s, thyristor-open: soak-heater.l1 }",
       later.c_str()},
      {"a line nobody defined", "scenario.yaml", "at: 20 s, cut: field", "at: 20 s, cut: feild",
       "scenario.yaml:19:22: 'cut' needs a line of the bench, found 'feild'; did you mean 'field'?"},
      {"an action that is over at once, for a while", "scenario.yaml", "at: 20 s, cut: field",
       "at: 20 s, cycle: main, for: 10 s", "scenario.yaml:19:24: 'cycle' is over at once and takes no 'for'"},
      {"two actions in one", "scenario.yaml", "at: 20 s, cut: field",
       "at: 20 s, cut: field, restore: ethernet",
       "scenario.yaml:19:29: an entry does one thing, found 'cut' and 'restore'"},
      {"no action", "scenario.yaml", "at: 20 s, cut: field", "at: 20 s", nothing_done.c_str()},
      {"no time", "scenario.yaml", "at: 20 s, cut: field", "cut: field",
       "scenario.yaml:19:5: when? expected 'at: 20 s' beside what is done"},
      {"an anchor of an action nobody knows", "scenario.yaml", "after: { restore: field }",
       "after: { restroe: field }", "scenario.yaml:23:42: unknown action 'restroe', did you mean 'restore'?"},
      {"an anchor of a line nobody defined", "scenario.yaml", "after: { restore: field }",
       "after: { restore: feild }",
       "scenario.yaml:23:51: 'restore' needs a line of the bench, found 'feild'; did you mean 'field'?"},
      {"nth without a timeline", "scenario.yaml", "from: 10 s", "from: 10 s, nth: 2",
       "scenario.yaml:21:32: nth: counts entries of the timeline, so it needs one under 'after' or 'from'"},
      {"an anchor of two things", "scenario.yaml", "until: { cut: field }",
       "until: { cut: field, restore: field }",
       "scenario.yaml:21:39: until: expected a time such as '10 s', or one entry of the timeline such as { "
       "cut: field }, found keys and values"},
      {"an anchor that is a list", "scenario.yaml", "until: { cut: field }", "until: [20 s]",
       "scenario.yaml:21:39: until: expected a time such as '10 s', or one entry of the timeline such as { "
       "cut: field }, found a list"},
      {"from and after", "scenario.yaml", "after: { cut: field }", "from: 3 s, after: { cut: field }",
       "scenario.yaml:22:22: 'from' and 'after' mean the same: leave one out"},
      {"two expectations in one", "scenario.yaml", "that: { soak-heater.state: inhibited }",
       "that: { soak-heater.state: inhibited }, never: { soak-heater.state: running }",
       "scenario.yaml:22:120: one expectation, one of 'that', 'always', 'never' and 'first_write': found "
       "'that' and 'never'"},
      {"no expectation", "scenario.yaml", ", that: { soak-heater.state: inhibited }", "",
       "scenario.yaml:22:5: nothing is expected here: 'that', 'always', 'never' or 'first_write' is missing"},
      {"within of an always", "scenario.yaml", "until: { cut: field }", "until: { cut: field }, within: 3 s",
       "scenario.yaml:21:55: within: goes with 'that' only"},
      {"not before but later than within", "scenario.yaml", "not_before: 900 ms", "not_before: 4 s",
       "scenario.yaml:22:57: not_before: '4 s' is later than 'within' allows"},
      {"no name", "scenario.yaml", "name: heats, ", "",
       "scenario.yaml:21:5: expect: key 'name' is missing, the sentence that will be passed or failed"},
      {"a signal nobody defined", "scenario.yaml", "soak-heater.load_power", "soak-heater.load_powr",
       "scenario.yaml:21:65: unknown signal 'soak-heater.load_powr', did you mean 'soak-heater.load_power'?"},
      {"a state nobody knows", "scenario.yaml", "soak-heater.state: inhibited", "soak-heater.state: inhibted",
       "scenario.yaml:22:107: soak-heater.state: unknown word 'inhibted', did you mean 'inhibited'?"},
      {"a size of a state", "scenario.yaml", "soak-heater.state: inhibited",
       "soak-heater.state: { above: running }",
       "scenario.yaml:22:109: soak-heater.state: only a quantity can be compared by size: expected 'equals' "
       "or 'not'"},
      {"include of a quantity", "scenario.yaml", "above: 11 kW", "include: comms-loss",
       "scenario.yaml:21:91: soak-heater.load_power: only warnings and trips include or exclude anything"},
      {"a comparator nobody knows", "scenario.yaml", "above: 11 kW", "abov: 11 kW",
       "scenario.yaml:21:91: unknown key 'abov', did you mean 'above'?"},
      {"two comparators", "scenario.yaml", "above: 11 kW", "above: 11 kW, below: 20 kW",
       "scenario.yaml:21:105: one comparator a signal, found 'above' and 'below'; 'between' has two ends"},
      {"near without tolerance", "scenario.yaml", "above: 11 kW", "near: 11 kW",
       "scenario.yaml:21:65: soak-heater.load_power: key 'tolerance' is missing, expected how near, such as "
       "'1 %'"},
      {"tolerance without near", "scenario.yaml", "above: 11 kW", "above: 11 kW, tolerance: 1 kW",
       "scenario.yaml:21:105: tolerance: only 'near' has a tolerance"},
      {"between upside down", "scenario.yaml", "above: 11 kW", "between: [12 kW, 11 kW]",
       "scenario.yaml:21:100: between: the lower end comes first"},
      {"between of one", "scenario.yaml", "above: 11 kW", "between: [12 kW]",
       "scenario.yaml:21:100: between: expected two ends such as [1 A, 2 A], found a list"},
      {"a value in another unit", "scenario.yaml", "above: 11 kW", "above: 11 A",
       "scenario.yaml:21:98: above: 'A' is no unit for a power: expected a power such as '24 kW'"},
      {"a flag nobody knows", "scenario.yaml", "soak-heater.state: inhibited",
       "soak-heater.warnings: { include: coms-loss }",
       "scenario.yaml:22:121: include: unknown word 'coms-loss', did you mean 'comms-loss'?"},
      {"a trip that nothing raises yet", "scenario.yaml", "soak-heater.state: inhibited",
       "soak-heater.trips: { exclude: [comms-loss, phase-lost] }",
       "scenario.yaml:22:131: exclude: 'phase-lost' is not there yet; known now: comms-loss"},
      {"a warning that nothing raises yet", "scenario.yaml", "soak-heater.state: inhibited",
       "soak-heater.warnings: supply-low",
       "scenario.yaml:22:110: soak-heater.warnings: 'supply-low' is not there yet; known now: comms-loss, "
       "supply-absent, current-limit, voltage-limit, power-limit, request-overload"},
      {"a trip that nothing raises yet, as a number", "scenario.yaml", "soak-heater.state: inhibited",
       "soak-heater.trips: { not: 3 }",
       "scenario.yaml:22:114: not: 'over-current' is not there yet; known now: comms-loss"},
      {"a bit that no trip has", "scenario.yaml", "soak-heater.state: inhibited",
       "soak-heater.trips: { exclude: 0x100 }",
       "scenario.yaml:22:118: exclude: expected names such as [comms-loss] or the sum of their bits, found "
       "'0x100'"},
      {"first_write of two", "scenario.yaml", "{ soak-heater.setpoint: { at_most: 0 % } } }",
       "{ soak-heater.setpoint: { at_most: 0 % }, soak-heater.heartbeat: 1 } }",
       "scenario.yaml:23:73: first_write: expected one written point such as { soak-heater.setpoint: { "
       "at_most: 0 % } }, found keys and values"},
      {"first_write of what nobody writes", "scenario.yaml",
       "first_write: { soak-heater.setpoint: { at_most: 0 % } }",
       "first_write: { soak-heater.load_power: { at_most: 0 W } }",
       "scenario.yaml:23:75: first_write: 'soak-heater.load_power' is no point that a master could write"},
  };
  test::check_breakages(cases, "scenario.yaml");
}
