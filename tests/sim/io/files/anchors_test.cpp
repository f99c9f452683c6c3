#include <string>

#include <doctest/doctest.h>

#include "sim/rehearsal/rehearsal.hpp"
#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

// What can be seen never to come is refused (scenario_sense_test.cpp). What might have come loads, and the
// verdict says what came of it.

namespace {

/// What the judge says of one expectation, `rest` behind its name, with an entry of the timeline that waits
/// for what does not come.
rehearsal::Outcome judged(const std::string& rest) {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  workspace.write("bench.yaml", test::kBench);
  const std::string text =
      "scenario: Short\nbench: bench.yaml\nends: 5 s\ntimeline:\n  - { at: 1 s, cut: field }\n"
      "  - { at: 2 s, restore: field }\n"
      "  - { when: { soak.measured: { above: 800 degC } }, cut: ethernet, name: hot }\n"
      "expect:\n  - { name: one, " +
      rest + " }\n";
  const auto loaded = io::load_scenario(workspace.write("scenario.yaml", text));
  if (!loaded) FAIL(workspace.lines(loaded.error()).front());
  rehearsal::Rehearsal rehearsal(*loaded, 1, {});
  rehearsal.loop().run_through(loaded->ends);
  auto verdict = rehearsal.verdict(0);
  REQUIRE(verdict.outcomes.size() == 1);
  CHECK(verdict.passed == (verdict.outcomes[0].result == rehearsal::Outcome::Result::passed));
  return verdict.outcomes[0];
}

}  // namespace

TEST_CASE("an anchor that might have come, and did not, is passed by silence") {
  struct Case {
    const char* what;
    const char* expectation;
  };
  const Case cases[] = {
      {"an entry that waits in vain", "after: { cut: ethernet }, that: { ethernet.state: cut }"},
      {"the same by its name", "after: { entry: hot }, that: { ethernet.state: cut }"},
      {"what hangs on it", "after: { entry: hot, plus: 1 s }, always: { ethernet.state: cut }"},
      {"an end that waits in vain", "until: { entry: hot }, never: { ethernet.state: cut }"},
      {"conditions that never hold",
       "after: { soak.measured: { above: 900 degC } }, that: { ethernet.state: cut }"},
      {"an end by conditions that never hold",
       "until: { soak.measured: { above: 900 degC } }, never: { ethernet.state: cut }"},
      {"conditions that hold too seldom",
       "after: { field.state: cut }, nth: 2, that: { field.state: normal }"},
      {"an end that comes with the beginning",
       "from: { field.state: cut }, until: { field.state: cut }, always: { field.state: cut }"},
  };
  for (const auto& [what, expectation] : cases) {
    CAPTURE(what);
    const auto outcome = judged(expectation);
    CHECK(outcome.result == rehearsal::Outcome::Result::not_judged);
    CHECK(outcome.sentence.starts_with("could not be judged: "));
  }
}

TEST_CASE("an anchor that comes is not judged where other entries wait in vain") {
  CHECK(judged("after: { restore: field }, within: 1 s, that: { field.state: normal }").result ==
        rehearsal::Outcome::Result::passed);
  CHECK(judged("from: { cut: field }, until: 2 s, always: { field.state: cut }").result ==
        rehearsal::Outcome::Result::passed);
  CHECK(judged("from: 3 s, always: { field.state: cut }").result == rehearsal::Outcome::Result::failed);
}
