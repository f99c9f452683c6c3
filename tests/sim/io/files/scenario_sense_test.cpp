#include <string>

#include <doctest/doctest.h>

#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

// The expected lines were read one by one when they were written: place, what can never be, what there is.

namespace {

/// A run of 60 s with this timeline, one item a line from line 13 on, and one expectation `what`.
std::string complaints(const std::string& timeline, const std::string& what,
                       const std::string& clock = "clock: stepped") {
  const test::Workspace workspace;
  workspace.write("bench.yaml", test::kBench);
  workspace.write("table.yaml", test::kTable);
  const std::string head =
      "scenario: T\n"
      "bench: bench.yaml\n"
      "ends: 60 s\n"
      "masters:\n"
      "  plc:\n"
      "    lines: [field, ethernet]\n"
      "    program:\n"
      "      - { every: 2 s, read: [soak-heater.state] }\n"
      "      - { at: 2 s, write: { soak-heater.setpoint: 50 % } }\n"
      "  scada: { lines: [ethernet], program: [ { every: 5 s, read: [soak-heater.load_power] } ] }\n"
      "expect:\n"
      "  - { name: one, ";
  const std::string text =
      head + what + " }\n" + (timeline.empty() ? "" : "timeline:\n" + timeline) + clock + "\n";
  const auto loaded = io::load_scenario(workspace.write("scenario.yaml", text));
  if (loaded) return "";
  std::string lines;
  for (const auto& line : workspace.lines(loaded.error())) lines += (lines.empty() ? "" : "\n") + line;
  return lines;
}

constexpr const char* kTimeline =
    "  - { at: 20 s, cut: field }\n"
    "  - { at: 30 s, restore: field }\n"
    "  - { after: { restore: field }, plus: 10 s, cycle: soak-heater.terminal.enable, name: acknowledged }\n"
    "  - { when: { soak-heater.state: running }, power_off: soak-heater, ask: Pull the plug }\n";

struct Row {
  const char* what;
  const char* expectation;
  const char* expected;
};

}  // namespace

TEST_CASE("an anchor that the timeline never does costs a whole run to find out") {
  const Row rows[] = {
      {"an action on something else", "after: { restore: ethernet }, that: { field.state: normal }",
       "scenario.yaml:12:25: after: the timeline never does 'restore ethernet', did you mean 'restore "
       "field'?"},
      {"another action on it", "after: { tcp_reset: ethernet }, that: { field.state: normal }",
       "scenario.yaml:12:25: after: the timeline never does 'tcp_reset ethernet'; it does: cut field, "
       "restore field, "
       "cycle soak-heater.terminal.enable, power_off soak-heater"},
      {"more often than it does", "after: { restore: field }, nth: 2, that: { field.state: normal }",
       "scenario.yaml:12:25: after: the timeline does 'restore field' once, and nth asks for number 2"},
      {"an end that never comes", "until: { power_on: soak-heater }, never: { ethernet.state: cut }",
       "scenario.yaml:12:25: until: the timeline never does 'power_on soak-heater', did you mean 'power_off "
       "soak-heater'?"},
      {"a step that never comes", "sequence: [ { cut: field }, { cut: ethernet } ]",
       "scenario.yaml:12:46: sequence: the timeline never does 'cut ethernet', did you mean 'cut field'?"},
      {"a beginning after the end", "from: 61 s, always: { field.state: normal }",
       "scenario.yaml:12:24: from: '61 s' is at 61 s, after the end of the run (60 s)"},
      {"a beginning at the end", "from: 60 s, always: { field.state: normal }",
       "scenario.yaml:12:24: from: '60 s' is the end of the run (60 s): there is nothing to see in a single "
       "instant"},
      {"a beginning at the end, of what a single instant shows", "from: 60 s, that: { field.state: normal }",
       ""},
      {"an end after the end", "until: 61 s, never: { ethernet.state: cut }",
       "scenario.yaml:12:25: until: '61 s' is at 61 s, after the end of the run (60 s)"},
      {"an end at the end", "until: 60 s, never: { ethernet.state: cut }", ""},
      {"an entry and more, after the end",
       "after: { restore: field, plus: 31 s }, that: { field.state: normal }",
       "scenario.yaml:12:25: after: 'restore field + 31 s' is at 61 s, after the end of the run (60 s)"},
      {"an entry and more, at the end",
       "after: { restore: field, plus: 30 s }, that: { field.state: normal }", ""},
      {"an end before the beginning", "from: 3 s, until: 2 s, never: { ethernet.state: cut }",
       "scenario.yaml:12:36: until: '2 s' does not come after the beginning, '3 s'"},
      {"an end at the beginning", "from: 3 s, until: 3 s, never: { ethernet.state: cut }",
       "scenario.yaml:12:36: until: '3 s' does not come after the beginning, '3 s'"},
      {"an end at the start of the run", "until: 0 s, never: { ethernet.state: cut }",
       "scenario.yaml:12:25: until: '0 s' does not come after the beginning, the start of the run"},
      {"an end before the beginning, by the timeline",
       "from: { restore: field }, until: { cut: field }, never: { ethernet.state: cut }",
       "scenario.yaml:12:51: until: 'cut field' (20 s) does not come after the beginning, 'restore field' "
       "(30 s)"},
      {"the closing edge of a cycle comes a second later",
       "from: { entry: acknowledged }, until: 41 s, never: { ethernet.state: cut }",
       "scenario.yaml:12:56: until: '41 s' does not come after the beginning, 'acknowledged' (41 s)"},
      {"and just after that is an end",
       "from: { entry: acknowledged }, until: 41.001 s, never: { ethernet.state: cut }", ""},
      {"what waits for something, as its own end",
       "from: { power_off: soak-heater }, until: { power_off: soak-heater }, never: { ethernet.state: cut }",
       "scenario.yaml:12:59: until: 'power_off soak-heater' does not come after the beginning, 'power_off "
       "soak-heater'"},
      {"and later than it",
       "from: { power_off: soak-heater }, until: { power_off: soak-heater, plus: 1 s }, never: { "
       "ethernet.state: cut }",
       ""},
      {"conditions as their own end",
       "from: { soak-heater.state: running, field.state: normal }, until: { soak-heater.state: running }, "
       "always: { field.state: normal }",
       "scenario.yaml:12:84: until: 'soak-heater.state running' does not come after the beginning, "
       "'soak-heater.state running and field.state normal'"},
      {"others",
       "from: { soak-heater.state: running }, until: { soak-heater.state: inhibited }, "
       "always: { field.state: normal }",
       ""},
      {"the same later on",
       "from: { soak-heater.state: running, plus: 1 s }, until: { soak-heater.state: running }, "
       "always: { field.state: normal }",
       ""},
      {"what a human may do later than asked for is no end that is known",
       "from: 45 s, until: { power_off: soak-heater }, never: { ethernet.state: cut }", ""},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    CHECK(complaints(kTimeline, row.expectation) == row.expected);
  }
  CHECK(complaints("", "after: { cut: field }, that: { field.state: cut }") ==
        "scenario.yaml:12:25: after: the timeline never does 'cut field'; it has no entries");
  // What an entry's `for` takes back is done by the timeline, too.
  CHECK(complaints("  - { at: 20 s, cut: field, for: 5 s }\n",
                   "after: { restore: field }, that: { field.state: normal }") == "");
}

TEST_CASE("a length that goes beyond the end of the run is found when it is over") {
  const Row rows[] = {
      {"too long for the run", "after: { restore: field }, within: 31 s, exceptions: { soak-heater: none }",
       "scenario.yaml:12:53: within: '31 s' after 'restore field' is at 61 s, after the end of the run "
       "(60 s)"},
      {"to the very end", "after: { restore: field }, within: 30 s, that: { field.state: normal }", ""},
      {"from the start", "within: 61 s, no_write: soak-heater.setpoint",
       "scenario.yaml:12:26: within: '61 s' after the start of the run is at 61 s, after the end of the run "
       "(60 s)"},
      {"but it may come before", "within: 61 s, that: { field.state: normal }", ""},
      {"all of them", "within: 61 s, sequence: [ { cut: field }, { restore: field } ]", ""},
      {"often enough", "within: 61 s, comes: { field.state: cut }, at_least: 2", ""},
      {"too often is known at the end only", "within: 61 s, comes: { field.state: cut }, at_most: 2",
       "scenario.yaml:12:26: within: '61 s' after the start of the run is at 61 s, after the end of the run "
       "(60 s)"},
      {"the first write", "within: 61 s, first_write: { soak-heater.setpoint: 50 % }", ""},
      {"the last write", "within: 61 s, last_write: { soak-heater.setpoint: 50 % }",
       "scenario.yaml:12:26: within: '61 s' after the start of the run is at 61 s, after the end of the run "
       "(60 s)"},
      {"silent for long enough", "within: 61 s, silence: { soak-heater: { at_least: 1 s } }", ""},
      {"never silent for too long", "within: 61 s, silence: { soak-heater: { at_most: 1 s } }",
       "scenario.yaml:12:26: within: '61 s' after the start of the run is at 61 s, after the end of the run "
       "(60 s)"},
      {"another end comes before", "until: 20 s, within: 61 s, no_write: soak-heater.setpoint", ""},
      {"not before the end", "after: { restore: field }, not_before: 31 s, that: { field.state: normal }",
       "scenario.yaml:12:57: not_before: '31 s' after 'restore field' is at 61 s, after the end of the run "
       "(60 s)"},
      {"always, for too long", "after: { restore: field }, for: 31 s, always: { field.state: normal }",
       "scenario.yaml:12:50: for: '31 s' after 'restore field' is at 61 s, after the end of the run (60 s)"},
      {"always, to the very end", "after: { restore: field }, for: 30 s, always: { field.state: normal }",
       ""},
      {"so long, and not before",
       "after: { restore: field }, not_before: 20 s, for: 11 s, that: { field.state: normal }",
       "scenario.yaml:12:68: for: '11 s' after 'restore field' is at 61 s, after the end of the run (60 s)"},
      {"after what may come early or late",
       "after: { soak-heater.state: running }, within: 61 s, no_write: soak-heater.setpoint",
       "scenario.yaml:12:65: within: '61 s' after 'soak-heater.state running' is not before 61 s, after the "
       "end of the "
       "run (60 s)"},
      {"after what may come late: that is for the run to say",
       "after: { soak-heater.state: running }, within: 60 s, that: { field.state: cut }", ""},
      {"what a master does in it", "after: { restore: field }, within: 31 s, no_write: soak-heater.setpoint",
       "scenario.yaml:12:53: within: '31 s' after 'restore field' is at 61 s, after the end of the run (60 "
       "s)"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    CHECK(complaints(kTimeline, row.expectation) == row.expected);
  }
}

TEST_CASE("an entry that the run never reaches waits in silence") {
  const char* expectation = "that: { field.state: cut }";
  struct Entry {
    const char* timeline;
    const char* expected;
  };
  const Entry rows[] = {
      {"  - { at: 61 s, cut: field }\n", "scenario.yaml:14:11: at: '61 s' is after the end of the run"},
      {"  - { at: 60 s, cut: field }\n", ""},
      {"  - { at: 50 s, cut: field, for: 20 s }\n", ""},
      {"  - { at: 50 s, cut: field }\n  - { after: { cut: field }, plus: 11 s, restore: field }\n",
       "scenario.yaml:15:14: after: 'cut field + 11 s' is at 61 s, after the end of the run (60 s)"},
      {"  - { at: 50 s, cut: field }\n  - { after: { cut: ethernet }, restore: field }\n",
       "scenario.yaml:15:14: after: the timeline never does 'cut ethernet', did you mean 'cut field'?"},
      {"  - { at: 50 s, cut: field }\n  - { after: { cut: field }, nth: 2, restore: field }\n",
       "scenario.yaml:15:14: after: the timeline does 'cut field' once, and nth asks for number 2"},
      {"  - { at: 10 s, cut: field }\n  - { after: { cut: field }, nth: 2, cut: field }\n",
       "scenario.yaml:15:14: after: 'cut field no. 2' can never come: what would bring it about waits for "
       "itself"},
      {"  - { when: { soak-heater.setpoint: { above: 100 % } }, cut: field }\n",
       "scenario.yaml:14:37: soak-heater.setpoint above 100 % can never hold: it goes from 0 % to 100 %"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.timeline);
    CHECK(complaints(row.timeline, expectation) == row.expected);
  }
}

TEST_CASE("what no stand-in ever writes or reads is waited for in vain") {
  const Row rows[] = {
      {"written", "first_write: { soak-heater.setpoint: 50 % }", ""},
      {"never written", "first_write: { soak-heater.comms_timeout: 3 s }",
       "scenario.yaml:12:33: first_write: no stand-in ever writes 'soak-heater.comms_timeout'; written: "
       "soak-heater.setpoint"},
      {"never written by this one", "first_write: { soak-heater.setpoint: 50 % }, by: scada",
       "scenario.yaml:12:33: first_write: stand-in 'scada' never writes 'soak-heater.setpoint'; nothing at "
       "all is "
       "written"},
      {"no write need not come", "no_write: soak-heater.comms_timeout", ""},
      {"at most need not come", "write_count: { soak-heater.comms_timeout: { at_most: 3 } }", ""},
      {"at least has to come", "write_count: { soak-heater.comms_timeout: { at_least: 1 } }",
       "scenario.yaml:12:33: write_count: no stand-in ever writes 'soak-heater.comms_timeout'; written: "
       "soak-heater.setpoint"},
      {"a rate that has to come", "write_rate: { soak-heater.comms_timeout: { at_least: 1 per min } }",
       "scenario.yaml:12:32: write_rate: no stand-in ever writes 'soak-heater.comms_timeout'; written: "
       "soak-heater.setpoint"},
      {"read", "poll_period: { soak-heater.load_power: { at_most: 6 s } }, by: scada", ""},
      {"read by the other", "poll_period: { soak-heater.load_power: { at_most: 6 s } }, by: plc",
       "scenario.yaml:12:33: poll_period: stand-in 'plc' never reads 'soak-heater.load_power'; read: "
       "soak-heater.state"},
      {"never read back", "read_back: { soak-heater.setpoint: 2 s }",
       "scenario.yaml:12:31: read_back: no stand-in ever reads 'soak-heater.setpoint'; read: "
       "soak-heater.state, "
       "soak-heater.load_power"},
      {"never read before", "read_before_write: { soak-heater.setpoint: soak-heater.trips }",
       "scenario.yaml:12:61: read_before_write: no stand-in ever reads 'soak-heater.trips'; read: "
       "soak-heater.state, "
       "soak-heater.load_power"},
      {"read before", "read_before_write: { soak-heater.setpoint: soak-heater.state }", ""},
      {"a step that nobody writes",
       "sequence: [ { field.state: normal }, { write: { soak-heater.comms_timeout: 3 s } } ]",
       "scenario.yaml:12:66: write: no stand-in ever writes 'soak-heater.comms_timeout'; written: "
       "soak-heater.setpoint"},
      {"an unknown stand-in", "no_write: soak-heater.setpoint, by: scda",
       "scenario.yaml:12:54: by: unknown stand-in 'scda', did you mean 'scada'?"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    CHECK(complaints("", row.expectation) == row.expected);
  }
}

TEST_CASE("a value that a point never has is waited for in vain") {
  const Row rows[] = {
      {"above its highest", "that: { soak-heater.setpoint: { above: 100 % } }",
       "scenario.yaml:12:48: soak-heater.setpoint above 100 % can never hold: it goes from 0 % to 100 %"},
      {"just its highest", "that: { soak-heater.setpoint: { at_least: 100 % } }", ""},
      {"beyond it", "always: { soak-heater.setpoint: 500 % }",
       "scenario.yaml:12:50: soak-heater.setpoint 500 % can never hold: it goes from 0 % to 100 %"},
      {"below its lowest", "comes: { soak-heater.setpoint: { below: 0 % } }, at_least: 1",
       "scenario.yaml:12:49: soak-heater.setpoint below 0 % can never hold: it goes from 0 % to 100 %"},
      {"near it", "that: { soak-heater.setpoint: { near: 101 %, tolerance: 2 % } }", ""},
      {"not near it", "that: { soak-heater.setpoint: { near: 110 %, tolerance: 2 % } }",
       "scenario.yaml:12:48: soak-heater.setpoint within 2 % of 110 % can never hold: it goes from 0 % to "
       "100 %"},
      {"between, beyond it", "that: { soak-heater.setpoint: { between: [101 %, 110 %] } }",
       "scenario.yaml:12:48: soak-heater.setpoint between 101 % and 110 % can never hold: it goes from 0 % "
       "to 100 %"},
      {"it has to come once", "comes: { soak-heater.setpoint: { above: 100 % } }, exactly: 1",
       "scenario.yaml:12:49: soak-heater.setpoint above 100 % can never hold: it goes from 0 % to 100 %"},
      {"it may stay away", "comes: { soak-heater.setpoint: { above: 100 % } }, at_most: 1", ""},
      {"it has to stay away", "comes: { soak-heater.setpoint: { above: 100 % } }, exactly: 0", ""},
      {"never is right to say so", "never: { soak-heater.setpoint: { above: 100 % } }", ""},
      {"a beginning", "after: { soak-heater.setpoint: { above: 100 % } }, that: { field.state: cut }",
       "scenario.yaml:12:49: soak-heater.setpoint above 100 % can never hold: it goes from 0 % to 100 %"},
      {"a step", "sequence: [ { field.state: normal }, { soak-heater.setpoint: { above: 100 % } } ]",
       "scenario.yaml:12:79: soak-heater.setpoint above 100 % can never hold: it goes from 0 % to 100 %"},
      {"but a master may ask for it", "first_write: { soak-heater.setpoint: { above: 100 % } }", ""},
      {"what has no limits", "that: { soak-heater.load_power: { above: 1000 kW } }", ""},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    CHECK(complaints("", row.expectation) == row.expected);
  }
}

TEST_CASE("a step that comes before or after its sequence is waited for in vain") {
  const Row rows[] = {
      {"within", "from: 20 s, until: 31 s, sequence: [ { cut: field }, { restore: field } ]", ""},
      {"before the beginning", "from: 20.001 s, sequence: [ { cut: field }, { field.state: normal } ]",
       "scenario.yaml:12:46: sequence: 'cut field' is at 20 s, before the beginning"},
      {"at the end", "until: 30 s, sequence: [ { cut: field }, { restore: field } ]",
       "scenario.yaml:12:59: sequence: 'restore field' is at 30 s, after the end of the interval"},
      {"after its own length", "within: 29 s, sequence: [ { cut: field }, { restore: field } ]",
       "scenario.yaml:12:60: sequence: 'restore field' is at 30 s, after the end of the interval"},
      {"at the end of its own length", "within: 30 s, sequence: [ { cut: field }, { restore: field } ]", ""},
      {"after what may come late",
       "after: { soak-heater.state: running }, within: 29 s, "
       "sequence: [ { cut: field }, { restore: field } ]",
       ""},
      {"what a human may do later",
       "from: 45 s, sequence: [ { power_off: soak-heater }, { field.state: normal } ]", ""},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    CHECK(complaints(kTimeline, row.expectation) == row.expected);
  }
}

TEST_CASE("a rate over windows that never fit is asked for in vain") {
  const Row rows[] = {
      {"longer than the run", "write_rate: { soak-heater.setpoint: { at_least: 2 per h } }",
       "scenario.yaml:12:32: write_rate: so many in any 1 h 00 min need an interval as long, "
       "this one lasts 60 s at most"},
      {"longer than its interval",
       "from: 1 s, write_rate: { soak-heater.setpoint: { between: [1 per min, 2 per min] } }",
       "scenario.yaml:12:43: write_rate: so many in any 60 s need an interval as long, "
       "this one lasts 59 s at most"},
      {"just so long", "write_rate: { soak-heater.setpoint: { at_least: 2 per min } }", ""},
      {"at most needs no whole window", "write_rate: { soak-heater.setpoint: { at_most: 2 per h } }", ""},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    CHECK(complaints("", row.expectation) == row.expected);
  }
}

TEST_CASE("one of several masters is asked about where nobody can tell them apart") {
  const Row rows[] = {
      {"on the lines of the simulation", "no_write: soak-heater.setpoint, by: plc", ""},
      {"on real ones", "no_write: soak-heater.setpoint, by: plc",
       "scenario.yaml:12:54: by: with 'clock: wall' masters come over real lines, where several cannot be "
       "told apart"},
  };
  CHECK(complaints("", rows[0].expectation) == rows[0].expected);
  CHECK(complaints("", rows[1].expectation, "clock: wall") == rows[1].expected);
}
