#include <string>

#include <doctest/doctest.h>

#include "sim/rehearsal/rehearsal.hpp"
#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

// Whoever shortens a run, or takes an entry out of a timeline, has made no mistake of spelling: the file
// loads, and the verdict says what came of it.

namespace {

/// What the judge says of one expectation, `rest` behind its name, with an entry of the timeline after the
/// end of the run.
rehearsal::Outcome judged(const std::string& rest) {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  workspace.write("bench.yaml", test::kBench);
  const std::string text =
      "scenario: Short\nbench: bench.yaml\nends: 5 s\ntimeline:\n  - { at: 1 s, cut: field }\n"
      "  - { at: 2 s, restore: field }\n  - { at: 60 s, cut: ethernet }\nexpect:\n  - { name: one, " +
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

TEST_CASE("an anchor that never comes is no mistake of the file, and is never passed by silence") {
  struct Case {
    const char* what;
    const char* expectation;
  };
  const Case cases[] = {
      {"not on the timeline", "after: { restore: ethernet }, that: { field.state: normal }"},
      {"on the timeline once", "after: { restore: field }, nth: 2, that: { field.state: normal }"},
      {"a time after the end", "from: 100 s, always: { field.state: normal }"},
      {"an end after the end", "until: 100 s, never: { ethernet.state: cut }"},
      {"an entry after the end", "after: { cut: ethernet }, that: { ethernet.state: cut }"},
      {"an end that is not on the timeline", "until: { restore: ethernet }, never: { ethernet.state: cut }"},
      {"an end before its start", "from: 3 s, until: 2 s, never: { ethernet.state: cut }"},
      {"an end at its start", "from: 3 s, until: 3 s, never: { ethernet.state: cut }"},
      {"an end before its start, by the timeline",
       "from: { restore: field }, until: { cut: field }, never: { ethernet.state: cut }"},
  };
  for (const auto& [what, expectation] : cases) {
    CAPTURE(what);
    const auto outcome = judged(expectation);
    CHECK(outcome.result == rehearsal::Outcome::Result::not_judged);
    CHECK(outcome.sentence.starts_with("could not be judged: "));
  }
}

TEST_CASE("an anchor that comes is judged, with later entries on the timeline or without") {
  CHECK(judged("after: { restore: field }, within: 1 s, that: { field.state: normal }").result ==
        rehearsal::Outcome::Result::passed);
  CHECK(judged("from: { cut: field }, until: 2 s, always: { field.state: cut }").result ==
        rehearsal::Outcome::Result::passed);
  CHECK(judged("from: 3 s, always: { field.state: cut }").result == rehearsal::Outcome::Result::failed);
}
