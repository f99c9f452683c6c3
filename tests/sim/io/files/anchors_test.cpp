#include <string>

#include <doctest/doctest.h>

#include "sim/rehearsal/rehearsal.hpp"
#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;
using rehearsal::Outcome;

// Moments as they stand in a file, all the way to what the judge says.

namespace {

/// What becomes of expectations, written in a file as they stand there, on a line that is cut from 1 s to 2 s
/// and again, when it has come back and after 1 s more, for half a second.
std::vector<Outcome> judged(const std::string& expectations) {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  workspace.write("bench.yaml", test::kBench);
  const std::string text =
      "scenario: Short\nbench: bench.yaml\nends: 5 s\ntimeline:\n"
      "  - { after: { entry: pulled }, plus: 1 s, restore: field }\n"
      "  - { at: 1 s, cut: field, name: pulled }\n"
      "  - { when: { field.state: normal }, plus: 1 s, cut: field, for: 500 ms }\n"
      "  - { after: { field.state: cut }, nth: 2, cut: ethernet }\n"
      "expect:\n" +
      expectations;
  const auto loaded = io::load_scenario(workspace.write("scenario.yaml", text));
  if (!loaded) FAIL(workspace.lines(loaded.error()).front());
  rehearsal::Rehearsal rehearsal(*loaded, 1, {});
  rehearsal.loop().run_through(loaded->ends);
  return rehearsal.verdict(0).outcomes;
}

Outcome judged_alone(const std::string& rest) { return judged("  - { name: one, " + rest + " }\n").at(0); }

}  // namespace

TEST_CASE("a moment in a file is another one in the run") {
  struct Row {
    const char* expectation;
    const char* begins;  ///< as the sentence of the verdict has it
  };
  const Row rows[] = {
      {"", "from the start"},
      {"from: 1500 ms,", "from 1500 ms"},
      {"after: { cut: field },", "after cut field (1 s)"},
      {"after: { cut: field, plus: 250 ms },", "after cut field + 0.25 s (1.25 s)"},
      {"after: { cut: field }, nth: 2,", "after cut field no. 2 (3 s)"},
      {"after: { entry: pulled },", "after pulled (1 s)"},
      {"after: { restore: field },", "after restore field (2 s)"},
      {"after: { restore: field }, nth: 2,", "after restore field no. 2 (3.5 s)"},
      {"after: { field.state: cut },", "after field.state cut (1 s)"},
      {"from: { field.state: cut, ethernet.state: normal, plus: 1 s },",
       "after field.state cut and ethernet.state normal + 1 s (2 s)"},
      {"after: { field.state: normal }, nth: 3,", "after field.state normal no. 3 (3.5 s)"},
      {"after: { cut: ethernet },", "after cut ethernet (3 s)"},
  };
  for (const auto& row : rows) {
    CAPTURE(std::string(row.expectation));
    const auto outcome =
        judged_alone(row.expectation + std::string(" that: { soak.temperature: { above: 0 degC } }"));
    CHECK(outcome.result == Outcome::Result::passed);
    CHECK_MESSAGE(outcome.sentence.find(std::string("0 s ") + row.begins) != std::string::npos,
                  outcome.sentence);
  }
}

TEST_CASE("expectations that wait for each other are taken apart by their order in the file") {
  const auto outcomes = judged(
      "  - { name: third, from: { met: second, plus: 500 ms }, for: 1 s, always: { field.state: normal } }\n"
      "  - { name: second, from: { met: first }, that: { field.state: cut } }\n"
      "  - { name: first, from: { cut: field }, becomes: yes, that: { field.state: normal } }\n");
  for (const auto& outcome : outcomes) {
    CHECK_MESSAGE(outcome.result == Outcome::Result::passed, outcome.sentence);
  }
  CHECK(outcomes[0].at == SimTime{std::chrono::milliseconds{4500}});
}

TEST_CASE("each kind of expectation in a file is judged as another one") {
  using R = Outcome::Result;
  struct Row {
    const char* expectation;
    Outcome::Result result;
    const char* part;
  };
  const Row rows[] = {
      {"eventually: { field.state: cut }, for: 1 s", R::failed, "the longest it held was 1 s"},
      {"eventually: { field.state: cut }, for: 900 ms", R::passed, "for 0.9 s, 1 s from the start"},
      {"from: { cut: field }, for: 900 ms, always: { field.state: cut }", R::passed,
       "always field.state cut for 0.9 s"},
      {"from: { cut: field }, for: 1 s, always: { field.state: cut }", R::failed,
       "at 2 s: field.state was normal"},
      {"never: { field.state: cut }, from: { cut: field, plus: 1 s }, until: { field.state: cut }", R::passed,
       "until field.state cut"},
      {"comes: { field.state: cut }, at_least: 2 times", R::passed, "came 2 times"},
      {"comes: { field.state: cut }, exactly: 2", R::passed, "came 2 times from the start to the end"},
      {"comes: { field.state: cut }, at_most: 1 times", R::failed, "at most once"},
      {"sequence: [{ cut: field }, { field.state: normal, within: 1 s }, { entry: pulled }]", R::failed,
       "it came before, at 1 s"},
      {"sequence: [{ entry: pulled }, { ethernet.state: cut }, { restore: field, within: 600 ms }]",
       R::passed, "3 (restore field) at 3.5 s"},
      {"sequence: [{ cut: field }, { write: { soak-heater.setpoint: 0 % } }]", R::failed,
       "2 (write of soak-heater.setpoint 0 %) did not come"},
  };
  for (const auto& row : rows) {
    CAPTURE(std::string(row.expectation));
    const auto outcome = judged_alone(row.expectation);
    CHECK(outcome.result == row.result);
    CHECK_MESSAGE(outcome.sentence.find(row.part) != std::string::npos, outcome.sentence);
  }
}

TEST_CASE("what did not come, though nobody could see that beforehand, is passed by silence") {
  for (const char* expectation :
       {"after: { soak-heater.state: running }, never: { field.state: cut }",
        "until: { soak-heater.state: running }, never: { ethernet.state: impaired }",
        "after: { field.state: cut }, nth: 3, always: { field.state: cut }"}) {
    CAPTURE(std::string(expectation));
    const auto outcome = judged_alone(expectation);
    CHECK(outcome.result == Outcome::Result::not_judged);
    CHECK_MESSAGE(outcome.sentence.starts_with("could not be judged: "), outcome.sentence);
  }
}
