#include <doctest/doctest.h>

#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

// The expected lines were read one by one when they were written: place, what is wrong, what was expected.

TEST_CASE("what is wrong with an entry that waits, has a name or asks is told where it stands") {
  const test::Breakage cases[] = {
      {"two times", "at: 20 s, cut: field", "at: 20 s, when: { field.state: cut }, cut: field",
       "scenario.yaml:19:17: 'at' and 'when' both say when: leave one out"},
      {"a time and a moment", "at: 20 s, cut: field", "at: 20 s, after: { cut: field }, cut: field",
       "scenario.yaml:19:17: 'at' and 'after' both say when: leave one out"},
      {"when with an action", "at: 20 s, cut: field", "when: { restore: field }, cut: field",
       "scenario.yaml:19:15: when: waits for conditions such as { soak.measured: { above: 540 degC } }, and "
       "everything else stands under 'after', found 'restore'"},
      {"when without conditions", "at: 20 s, cut: field", "when: 5 s, cut: field",
       "scenario.yaml:19:13: when: expected conditions such as { soak-heater.state: running }, found '5 s'"},
      {"when of an unknown signal", "at: 20 s, cut: field", "when: { field.stat: cut }, cut: field",
       "scenario.yaml:19:15: unknown signal 'field.stat', did you mean 'field.state'?"},
      {"plus with a time", "at: 20 s, cut: field", "at: 20 s, plus: 1 s, cut: field",
       "scenario.yaml:19:17: plus: counts from what stands under 'when' or 'after'"},
      {"plus twice", "at: 20 s, cut: field",
       "when: { field.state: normal, plus: 1 s }, plus: 1 s, cut: field",
       "scenario.yaml:19:49: plus: stands under 'when' already"},
      {"nth with when", "at: 20 s, cut: field", "when: { field.state: normal }, nth: 2, cut: field",
       "scenario.yaml:19:38: nth: counts what stands under 'after'"},
      {"nth of an entry", "  - { at: 30 s, restore: field }\n  - { at: 20 s, cut: field }",
       "  - { after: { entry: pulled }, nth: 2, restore: field }\n  - { at: 20 s, cut: field, name: pulled }",
       "scenario.yaml:18:33: nth: counts what can come again, so it needs an action such as { cut: field } "
       "or conditions under 'after' or 'from'"},
      {"an entry nobody named", "at: 30 s, restore: field", "after: { entry: pulled }, restore: field",
       "scenario.yaml:18:23: entry: no entry of the timeline has a name, found 'pulled'"},
      {"an entry with another name", "  - { at: 30 s, restore: field }\n  - { at: 20 s, cut: field }",
       "  - { after: { entry: puled }, restore: field }\n  - { at: 20 s, cut: field, name: pulled }",
       "scenario.yaml:18:23: entry: unknown entry 'puled', did you mean 'pulled'?"},
      {"two entries with one name", "  - { at: 30 s, restore: field }\n  - { at: 20 s, cut: field }",
       "  - { at: 30 s, restore: field, name: pulled }\n  - { at: 20 s, cut: field, name: pulled }",
       "scenario.yaml:19:35: name 'pulled' is already used in line 18"},
      {"an entry that waits for itself", "at: 20 s, cut: field", "after: { cut: field }, cut: field",
       "scenario.yaml:19:5: 'cut field' waits for itself and can never come"},
      {"an entry that waits for itself by name", "at: 20 s, cut: field",
       "after: { entry: pulled }, cut: field, name: pulled",
       "scenario.yaml:19:5: 'pulled' waits for itself and can never come"},
      {"nothing done, nothing asked, but for", "at: 20 s, cut: field", "at: 20 s, ask: Pull it, for: 1 s",
       "scenario.yaml:19:31: for: nothing is done here that could be taken back"},
      {"asked for a while", "at: 20 s, cut: field", "at: 20 s, cut: field, ask: Pull it, for: 1 s",
       "scenario.yaml:19:43: for: whoever is asked to do something is asked to undo it, too, in an entry of "
       "its own"},
      {"asked for on two lines", "at: 20 s, cut: field", "at: 20 s, cut: field, ask: \"Pull\\nit\"",
       "scenario.yaml:19:34: ask: expected a text on one line, found 'Pull it'"},
      {"an action nobody knows beside ask", "at: 20 s, cut: field", "at: 20 s, ct: field, ask: Pull it",
       "scenario.yaml:19:17: unknown action 'ct', did you mean 'cut'?"},
  };
  test::check_breakages(cases, "scenario.yaml");
}

TEST_CASE("what is wrong with a moment is told where it stands") {
  const test::Breakage cases[] = {
      {"an expectation nobody wrote", "after: { restore: field }", "after: { met: latchs }",
       "scenario.yaml:23:47: met: unknown expectation 'latchs', did you mean 'latches'?"},
      {"an expectation that waits for itself", "name: latches, after: { cut: field }",
       "name: latches, after: { met: latches }",
       "scenario.yaml:22:5: 'latches' waits for itself and can never come"},
      {"two that wait for each other",
       "after: { cut: field }, not_before: 900 ms, within: 3.1 s, that: { soak-heater.state: inhibited } }\n"
       "  - { name: comes back at zero, after: { restore: field }",
       "after: { met: comes back at zero }, that: { soak-heater.state: inhibited } }\n"
       "  - { name: comes back at zero, after: { met: latches }",
       "scenario.yaml:22:5: 'latches' waits for 'comes back at zero', 'comes back at zero' for 'latches': "
       "none of them can ever come"},
      {"conditions and an action", "after: { cut: field }",
       "after: { soak-heater.state: running, cut: field }",
       "scenario.yaml:22:59: one thing to wait for, found 'soak-heater.state' and 'cut'"},
      {"plus alone", "after: { cut: field }", "after: { plus: 1 s }",
       "scenario.yaml:22:29: after: expected a time such as '10 s', an entry of the timeline such as { cut: "
       "field }, or conditions such as { soak-heater.state: running }, found none"},
      {"plus that is no time", "after: { cut: field }", "after: { cut: field, plus: 1 A }",
       "scenario.yaml:22:49: plus: 'A' is no unit for a time: expected a time such as '3 s'"},
      {"plus into the past", "after: { cut: field }", "after: { cut: field, plus: -1 s }",
       "scenario.yaml:22:49: plus: '-1 s' must not be negative"},
      {"nth of an expectation", "after: { restore: field }", "after: { met: latches }, nth: 2",
       "scenario.yaml:23:58: nth: counts what can come again, so it needs an action such as { cut: field } "
       "or conditions under 'after' or 'from'"},
      {"nth of nothing", "after: { restore: field },", "nth: 2,",
       "scenario.yaml:23:33: nth: counts what can come again, so it needs an action such as { cut: field } "
       "or conditions under 'after' or 'from'"},
      {"nth below one", "after: { restore: field }", "after: { restore: field }, nth: 0",
       "scenario.yaml:23:65: nth: expected a whole number from 1 to 1000000, found '0'"},
      {"a signal nobody knows", "after: { cut: field }", "after: { soak-heater.stat: running }",
       "scenario.yaml:22:31: unknown signal 'soak-heater.stat', did you mean 'soak-heater.state'?"},
  };
  test::check_breakages(cases, "scenario.yaml");
}

TEST_CASE("what is wrong with what is expected is told where it stands") {
  const test::Breakage cases[] = {
      {"for without length", "until: { cut: field }", "for: 0 s",
       "scenario.yaml:21:37: for: '0 s' must be above 0"},
      {"for of comes", "not_before: 900 ms, within: 3.1 s, that: { soak-heater.state: inhibited }",
       "comes: { soak-heater.state: inhibited }, at_least: 1, for: 1 s",
       "scenario.yaml:22:99: for: goes with 'that', 'eventually', 'always' and 'never', found 'comes'"},
      {"for of what masters do", "first_write", "for: 1 s, first_write",
       "scenario.yaml:23:60: for: goes with 'that', 'eventually', 'always' and 'never', found 'first_write'"},
      {"not_before of an always", "until: { cut: field }", "not_before: 1 s",
       "scenario.yaml:21:32: not_before: goes with 'that' and 'eventually', found 'always'"},
      {"becomes of a never", "until: { cut: field }, always", "becomes: yes, never",
       "scenario.yaml:21:32: becomes: goes with 'that' and 'eventually', found 'never'"},
      {"comes without a number", "not_before: 900 ms, within: 3.1 s, that", "comes",
       "scenario.yaml:22:45: comes: how often? expected 'at_least: 2 times', 'at_most: 5 times' or 'exactly: "
       "3 times' beside it"},
      {"more at least than at most",
       "not_before: 900 ms, within: 3.1 s, that: { soak-heater.state: inhibited }",
       "comes: { soak-heater.state: inhibited }, at_least: 3 times, at_most: 2 times",
       "scenario.yaml:22:96: at_least: '3 times' is more than 'at_most' allows, which is '2 times'"},
      {"exactly and at least", "not_before: 900 ms, within: 3.1 s, that: { soak-heater.state: inhibited }",
       "comes: { soak-heater.state: inhibited }, at_least: 3 times, exactly: 2 times",
       "scenario.yaml:22:105: exactly: says at least and at most at once: leave one out"},
      {"at least no times", "not_before: 900 ms, within: 3.1 s, that: { soak-heater.state: inhibited }",
       "comes: { soak-heater.state: inhibited }, at_least: 0",
       "scenario.yaml:22:96: at_least: expected a whole number from 1 to 1000000 times, found '0'"},
      {"at_most of a that", "not_before: 900 ms", "at_most: 3",
       "scenario.yaml:22:45: at_most: goes with 'comes', found 'that'"},
      {"by beside conditions", "not_before: 900 ms", "by: plc",
       "scenario.yaml:22:45: by: goes with what masters do, found 'that'"},
      {"by a stranger", "first_write", "by: plk, first_write",
       "scenario.yaml:23:64: by: unknown stand-in 'plk', did you mean 'plc'?"},
      {"a sequence of one", "not_before: 900 ms, within: 3.1 s, that: { soak-heater.state: inhibited }",
       "sequence: [{ cut: field }]",
       "scenario.yaml:22:55: sequence: expected a list of two steps or more, such as [{ cut: field }, { "
       "soak-heater.state: inhibited }], found a list"},
      {"a sequence that is no list",
       "not_before: 900 ms, within: 3.1 s, that: { soak-heater.state: inhibited }",
       "sequence: { cut: field }",
       "scenario.yaml:22:55: sequence: expected a list of two steps or more, such as [{ cut: field }, { "
       "soak-heater.state: inhibited }], found keys and values"},
      {"a step that is a time", "not_before: 900 ms, within: 3.1 s, that: { soak-heater.state: inhibited }",
       "sequence: [{ cut: field }, 5 s]",
       "scenario.yaml:22:72: sequence: expected a step such as { soak-heater.state: running } or { cut: "
       "field }, found '5 s'"},
      {"a step of nothing but within",
       "not_before: 900 ms, within: 3.1 s, that: { soak-heater.state: inhibited }",
       "sequence: [{ cut: field }, { within: 5 s }]",
       "scenario.yaml:22:72: sequence: expected a step such as { soak-heater.state: running } or { cut: "
       "field }, found none"},
      {"a step of two things", "not_before: 900 ms, within: 3.1 s, that: { soak-heater.state: inhibited }",
       "sequence: [{ cut: field }, { write: { soak-heater.setpoint: 0 % }, restore: field }]",
       "scenario.yaml:22:112: a step is one thing, found 'write' and 'restore'"},
      {"a step with plus", "not_before: 900 ms, within: 3.1 s, that: { soak-heater.state: inhibited }",
       "sequence: [{ cut: field, plus: 1 s }, { restore: field }]",
       "scenario.yaml:22:70: plus: a step comes when it comes, and 'within' says how soon after the one "
       "before"},
  };
  test::check_breakages(cases, "scenario.yaml");
}
