// Ends of intervals that cannot be, or leave no room, as far as that is seen before a run.
#include <string>

#include <doctest/doctest.h>

#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

// The expected lines were read one by one when they were written: place, what can never be, what there is.

namespace {

/// A run of 60 s with this timeline, and two expectations: `whole`, about all of the run, and the second, in
/// line 10, `what`.
std::string complaints(const std::string& what, const std::string& timeline) {
  const test::Workspace workspace;
  workspace.write("bench.yaml", test::kBench);
  workspace.write("table.yaml", test::kTable);
  const std::string text =
      "scenario: T\n"
      "bench: bench.yaml\n"
      "ends: 60 s\n"
      "masters:\n"
      "  plc:\n"
      "    lines: [field, ethernet]\n"
      "    program: [ { at: 2 s, write: { soak-heater.setpoint: 50 % } } ]\n"
      "expect:\n"
      "  - { name: whole, never: { ethernet.state: cut } }\n"
      "  - { name: one, " +
      what + " }\ntimeline:\n" + timeline;
  const auto loaded = io::load_scenario(workspace.write("scenario.yaml", text));
  if (loaded) return "";
  std::string lines;
  for (const auto& line : workspace.lines(loaded.error())) lines += (lines.empty() ? "" : "\n") + line;
  return lines;
}

constexpr const char* kTimeline =
    "  - { at: 20 s, cut: field, for: 10 s, name: pulled }\n"
    "  - { at: 40 s, cut: field, for: 5 s }\n"
    "  - { when: { soak-heater.state: running }, power_off: soak-heater, name: off }\n";

struct Row {
  const char* what;
  const char* expectation;
  const char* expected;
};

}  // namespace

TEST_CASE("what lasts has no room before its end, and says so only after the run") {
  const Row rows[] = {
      {"cut short",
       "from: { entry: pulled }, until: { restore: field, plus: 1 ms }, for: 11 s, always: { field.state: "
       "cut }",
       "scenario.yaml:10:87: for: '11 s' has no room before 'restore field + 0.001 s', which comes 10.001 s "
       "after the "
       "beginning: that instant is outside the interval"},
      {"its last instant belongs to the end",
       "after: { entry: pulled }, until: { restore: field }, for: 10 s, that: { field.state: cut }",
       "scenario.yaml:10:76: for: '10 s' has no room before 'restore field', which comes 10 s after the "
       "beginning: that instant is outside the interval"},
      {"just room enough",
       "after: { entry: pulled }, until: { restore: field }, for: 9.999 s, that: { field.state: cut }", ""},
      {"no room behind not_before",
       "after: { entry: pulled }, until: { restore: field }, not_before: 1 s, for: 9 s, that: { field.state: "
       "cut }",
       "scenario.yaml:10:93: for: '9 s' has no room before 'restore field', which comes 10 s after the "
       "beginning: that instant is outside the interval"},
      {"between what waits and so long after it",
       "after: { entry: off }, until: { power_off: soak-heater, plus: 5 s }, for: 5 s, always: { "
       "field.state: cut }",
       ""},
      {"the same by the same name",
       "after: { entry: off }, until: { entry: off, plus: 5 s }, for: 5 s, always: { field.state: cut }",
       "scenario.yaml:10:80: for: '5 s' has no room before 'off + 5 s', which comes 5 s after the beginning: "
       "that instant is outside the interval"},
      {"an end that may come late", "until: { entry: off }, for: 50 s, always: { field.state: cut }", ""},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    CHECK(complaints(row.expectation, kTimeline) == row.expected);
  }
}

TEST_CASE("until: an action that is done again is taken for the one before the beginning") {
  const Row rows[] = {
      {"the second time",
       "after: { cut: field }, nth: 2, until: { restore: field }, never: { field.state: normal }", ""},
      {"the second time, for as long as it lasts",
       "after: { cut: field }, nth: 2, until: { restore: field }, for: 5 s, never: { field.state: normal }",
       "scenario.yaml:10:81: for: '5 s' has no room before 'restore field', which comes 5 s after the "
       "beginning: "
       "that instant is outside the interval"},
      {"not any more", "from: 50 s, until: { restore: field }, never: { field.state: cut }",
       "scenario.yaml:10:37: until: 'restore field' (30 s) does not come after the beginning, '50 s'"},
      {"with the beginning", "from: 30 s, until: { restore: field }, never: { field.state: cut }",
       "scenario.yaml:10:37: until: 'restore field' (30 s) does not come after the beginning, '30 s'"},
      {"as its own end, by nth",
       "after: { cut: field }, nth: 2, until: { cut: field }, never: { field.state: normal }",
       "scenario.yaml:10:56: until: 'cut field' (40 s) does not come after the beginning, 'cut field no. 2' "
       "(40 s)"},
      {"the entry of that name comes once",
       "from: 30 s, until: { entry: pulled }, never: { field.state: cut }",
       "scenario.yaml:10:37: until: 'pulled' (20 s) does not come after the beginning, '30 s'"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    CHECK(complaints(row.expectation, kTimeline) == row.expected);
  }
}

TEST_CASE(
    "what hangs on something that is met with the end of the run passes by a single instant, or waits in "
    "vain") {
  const Row rows[] = {
      {"a beginning", "after: { met: whole }, no_write: soak-heater.setpoint",
       "scenario.yaml:10:25: after: 'whole' is met with the end of the run, and nothing comes after that"},
      {"an end", "until: { met: whole }, never: { ethernet.state: cut }",
       "scenario.yaml:10:25: until: 'whole' is met with the end of the run, and nothing comes after that"},
      {"a step", "sequence: [ { cut: field }, { met: whole } ]",
       "scenario.yaml:10:46: sequence: 'whole' is met with the end of the run, and nothing comes after that"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    CHECK(complaints(row.expectation, kTimeline) == row.expected);
  }
  const char* entry = "  - { after: { met: %s }, cut: field }\n";
  const auto waits_for = [&](const std::string& name) {
    std::string text = entry;
    return text.replace(text.find("%s"), 2, name);
  };
  CHECK(complaints("that: { field.state: cut }", waits_for("whole")) ==
        "scenario.yaml:12:14: after: 'whole' is met with the end of the run, and nothing comes after that");
  CHECK(complaints("no_write: soak-heater.comms_timeout", waits_for("one")) ==
        "scenario.yaml:12:14: after: 'one' is met with the end of the run, and nothing comes after that");
  CHECK(complaints("comes: { field.state: cut }, at_most: 1", waits_for("one")) ==
        "scenario.yaml:12:14: after: 'one' is met with the end of the run, and nothing comes after that");
  CHECK(complaints("comes: { soak-heater.state: running }, at_least: 1", waits_for("one")) == "");
  CHECK(complaints("for: 30 s, never: { ethernet.state: cut }", waits_for("one")) == "");
  CHECK(complaints("until: 30 s, never: { ethernet.state: cut }", waits_for("one")) == "");
}

TEST_CASE("sequence: one entry that happens once is waited for twice") {
  const Row rows[] = {
      {"as often as it comes", "sequence: [ { cut: field }, { cut: field } ]", ""},
      {"once more", "sequence: [ { cut: field }, { restore: field }, { cut: field }, { cut: field } ]",
       "scenario.yaml:10:82: sequence: 'cut field' comes 2 times, and each time is good for one step"},
      {"by its name and by what it does", "sequence: [ { power_off: soak-heater }, { entry: off } ]",
       "scenario.yaml:10:58: sequence: 'off' comes once, and each time is good for one step"},
      {"an entry and another that does the same", "sequence: [ { entry: pulled }, { cut: field } ]", ""},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    CHECK(complaints(row.expectation, kTimeline) == row.expected);
  }
}
