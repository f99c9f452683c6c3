#include <string>

#include "tests/sim/rehearsal/story.hpp"

using namespace emberline;
using namespace emberline::testing;
using rehearsal::SequenceStep;

namespace {

SequenceStep condition_holds(const Condition& condition, std::optional<Duration> within = {}) {
  return {{condition}, {}, {}, within, rehearsal::describe(condition)};
}
SequenceStep comes(const rehearsal::Anchor& anchor, std::optional<Duration> within = {}) {
  return {{}, anchor, {}, within, anchor.text};
}
SequenceStep write_of(const rehearsal::ScenarioSpec& spec, double value,
                      std::optional<Duration> within = {}) {
  const auto asked = that(spec, "heater.setpoint", Comparator::near, value, 0.001);
  return {{}, {}, first_write(asked), within, "write of " + rehearsal::describe(asked)};
}

Expectation one_after_another(std::vector<SequenceStep> steps, Duration from = 0s) {
  Expectation expectation;
  expectation.name = "in turn";
  expectation.kind = Kind::sequence;
  expectation.from = at_time(from);
  expectation.sequence = std::move(steps);
  return expectation;
}

}  // namespace

TEST_CASE("sequence: steps out of order, at one instant or too late are taken for the right order") {
  struct Row {
    const char* what;
    Duration cut_at, written_at;  ///< the steps: cut field, and within 5 s of it the write of 50 %
    Duration from;
    Outcome::Result result;
    Duration decided;
    const char* part;
  };
  const Row rows[] = {
      {"in order", 10s, 12s, 0s, kPassed, 12s, "1 (cut field) at 10 s, 2 (write of heater.setpoint within"},
      {"at one instant, though the write came first in it", 10s, 10s, 0s, kPassed, 10s, ""},
      {"out of order", 12s, 10s, 0s, kFailed, 17s,
       "2 (write of heater.setpoint within 0.1 % of 50 %) did not come within 5 s after 1 (cut field) at 12 "
       "s"},
      {"at the very limit of the step", 10s, 15s, 0s, kPassed, 15s, ""},
      {"an instant too late", 10s, 15s + 1ns, 0s, kFailed, 15s, "did not come within 5 s"},
      {"the first at the very beginning", 10s, 12s, 10s, kPassed, 12s, ""},
      {"the first before the beginning", 10s, 12s, 10s + 1ns, kFailed, 30s,
       "1 (cut field) did not come; it came before, at 10 s"},
      {"the first never comes", 40s, 12s, 0s, kFailed, 30s, "1 (cut field) did not come"},
      {"the run ends while the second is waited for", 28s, 29s + 3s, 0s, kNotJudged, 30s,
       "the run ended first, at 30 s, while 2"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto spec = scenario(30s);
    add_entry(spec, row.cut_at, "cut field");
    spec.expectations = {
        one_after_another({comes(on(spec, "cut field")), write_of(spec, 0.5, 5s)}, row.from)};
    const auto outcome = judged(spec, {{row.written_at, 500}});
    CHECK(outcome.result == row.result);
    CHECK(to_seconds(*outcome.at) == doctest::Approx(to_seconds(row.decided)));
    check_says(outcome, row.part);
  }
}

TEST_CASE("sequence: a condition that held before its turn counts only if it still holds") {
  struct Row {
    std::vector<Duration> cut_and_restored;
    Outcome::Result result;
  };
  // The write at 10 s, then the line being cut.
  const Row rows[] = {
      {{5s}, kPassed}, {{5s, 10s}, kFailed}, {{10s}, kPassed}, {{12s}, kPassed}, {{}, kFailed}};
  for (const auto& row : rows) {
    auto spec = scenario(30s);
    toggle_field(spec, row.cut_and_restored);
    spec.expectations = {one_after_another({write_of(spec, 0.5), condition_holds(field_is_cut(spec))})};
    CHECK(judged(spec, {{10s, 500}}).result == row.result);
  }
}

TEST_CASE("sequence: one write is taken for two steps, or two of one instant for one") {
  auto spec = scenario(30s);
  spec.expectations = {one_after_another({write_of(spec, 0.5), write_of(spec, 0.5)})};
  CHECK(judged(spec, {{10s, 500}}).result == kFailed);
  CHECK(judged(spec, {{10s, 500}, {11s, 400}}).result == kFailed);
  CHECK(judged(spec, {{10s, 500}, {10s, 500}}).result == kPassed);
  CHECK(judged(spec, {{10s, 500}, {11s, 400}, {12s, 500}}).result == kPassed);
  spec.expectations = {one_after_another({write_of(spec, 0.4), write_of(spec, 0.5)})};
  CHECK(judged(spec, {{10s, 500}, {10s, 400}}).result == kPassed);  // at one instant they are in no order
  CHECK(judged(spec, {{10s, 500}, {10s + 1ns, 400}}).result == kFailed);
  CHECK(judged(spec, {{10s, 400}, {10s, 500}}).result == kPassed);
}

TEST_CASE("sequence: the whole is not held to its own time or to until") {
  auto spec = scenario(30s);
  toggle_field(spec, {10s, 12s});
  auto expectation = one_after_another({comes(on(spec, "cut field")), comes(on(spec, "restore field"))}, 5s);
  expectation.within = 7s;
  spec.expectations = {expectation};
  CHECK(judged(spec).result == kPassed);
  spec.expectations[0].within = 7s - 1ns;
  const auto late = judged(spec);
  CHECK(late.result == kFailed);
  check_says(late, "2 (restore field) did not come after 1 (cut field) at 10 s");
  spec.expectations[0].within.reset();
  spec.expectations[0].until = at_time(12s);
  CHECK(judged(spec).result == kFailed);
  spec.expectations[0].until = at_time(12s + 1ns);
  CHECK(judged(spec).result == kPassed);
}

TEST_CASE(
    "sequence: an entry that comes again is waited for in vain, and so is the closing edge of a cycle") {
  auto spec = scenario(30s);
  toggle_field(spec, {5s, 6s, 15s, 16s});
  add_entry(spec, 10s, "cycle heater.terminal.enable");
  const auto cut = comes(on(spec, "cut field"));
  const auto cycled = comes(on(spec, "cycle heater.terminal.enable"));
  spec.expectations = {one_after_another({cut, cycled, cut})};
  const auto outcome = judged(spec);
  CHECK(outcome.result == kPassed);
  check_says(outcome,
             "1 (cut field) at 5 s, 2 (cycle heater.terminal.enable) at 11 s, 3 (cut field) at 15 s");
  spec.expectations = {one_after_another({cycled, comes(entry(0))})};
  const auto before = judged(spec);
  CHECK(before.result == kFailed);
  check_says(before, "it came before, at 5 s");
}

TEST_CASE("sequence: another expectation being met is no step, or one whatever its place in the file") {
  for (const bool first_in_file : {true, false}) {
    auto spec = scenario(30s);
    toggle_field(spec, {5s, 8s});
    Expectation restored;
    restored.name = "restored";
    restored.from = on(spec, "cut field");
    restored.conditions = {that(spec, "field.state", Comparator::equals, 0)};
    const auto in_turn =
        one_after_another({comes(on(spec, "cut field")), comes(met("restored"), 3s), write_of(spec, 0.5)});
    spec.expectations = {restored, in_turn};
    if (!first_in_file) std::swap(spec.expectations[0], spec.expectations[1]);
    for (const auto& outcome : judge_all(spec, {{8s, 500}})) CHECK(outcome.result == kPassed);
  }
}

TEST_CASE("sequence: a write is forgotten when its instant goes round once more") {
  auto spec = scenario(30s);
  toggle_field(spec, {10s});
  Expectation cut;
  cut.name = "cut";
  cut.conditions = {field_is_cut(spec)};
  add_entry(spec, 0s, "cut ethernet");
  spec.timeline.back().when = met("cut");
  spec.expectations = {cut, one_after_another({comes(on(spec, "cut ethernet")), write_of(spec, 0.5)})};
  for (const auto& outcome : judge_all(spec, {{10s, 500}})) CHECK(outcome.result == kPassed);
}

TEST_CASE("sequence: one entry that happens once is taken for two steps") {
  auto spec = scenario(30s);
  toggle_field(spec, {10s, 12s});
  const auto cut = comes(on(spec, "cut field"));
  spec.expectations = {one_after_another({cut, cut})};
  const auto outcome = judged(spec);
  CHECK(outcome.result == kFailed);
  check_says(outcome, "2 (cut field) did not come after 1 (cut field) at 10 s");
  spec.expectations = {one_after_another({cut, comes(entry(0))})};
  CHECK(judged(spec).result == kFailed);
  add_entry(spec, 10s, "cut field");
  spec.expectations = {one_after_another({cut, cut})};
  CHECK(judged(spec).result == kPassed);
}

TEST_CASE("sequence: of the writes of one instant those are lost that came before the one a step took") {
  auto spec = scenario(30s);
  spec.expectations = {one_after_another({write_of(spec, 0.5), write_of(spec, 0.4)})};
  CHECK(judged(spec, {{10s, 400}, {10s, 500}}).result == kPassed);
  CHECK(judged(spec, {{10s, 400}, {10s + 1ns, 500}}).result == kFailed);
}
