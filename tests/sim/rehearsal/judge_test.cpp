#include <limits>
#include <string>

#include <doctest/doctest.h>

#include "tests/sim/rehearsal/story.hpp"

using namespace emberline;
using namespace emberline::testing;

TEST_CASE("within: the condition has to come between not_before and the deadline, both included") {
  struct Row {
    const char* what;
    Duration write_at, not_before, within;
    Outcome::Result result;
    const char* part;
  };
  const Row rows[] = {
      {"in time", 12s, 0s, 3s, kPassed, ""},
      {"at the very deadline", 13s, 0s, 3s, kPassed, ""},
      {"just too late", 13s + 1ms, 0s, 3s, kFailed, "when the time was up"},
      {"too early", 11s, 2s, 3s, kFailed, "too early"},
      {"at the very not_before", 12s, 2s, 3s, kPassed, ""},
      {"already so", 5s, 0s, 3s, kPassed, ""},
      {"already so, though not before", 5s, 1s, 3s, kFailed, "too early"},
      {"never", 100s, 0s, 3s, kFailed, "output was 0 %"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto spec = scenario(20s);
    Expectation expectation;
    expectation.from = at_time(10s);
    expectation.not_before = row.not_before;
    expectation.within = row.within;
    expectation.conditions = {that(spec, "heater.setpoint", Comparator::at_least, 0.5)};
    if (row.part == std::string("output was 0 %"))
      expectation.conditions = {that(spec, "heater.output", Comparator::above, 0.5)};
    spec.expectations = {expectation};
    const auto outcome = judged(spec, {{row.write_at, 500}});
    CHECK(outcome.result == row.result);
    CHECK_MESSAGE(outcome.sentence.find(row.part) != std::string::npos, outcome.sentence);
  }
}

TEST_CASE("becomes: true already does not count, turning true does") {
  auto spec = scenario(20s);
  Expectation expectation;
  expectation.from = at_time(10s);
  expectation.within = 5s;
  expectation.becomes = true;
  expectation.conditions = {that(spec, "heater.setpoint", Comparator::near, 0.5, 0.001)};
  spec.expectations = {expectation};
  CHECK(judged(spec, {{5s, 500}}).result == kFailed);
  CHECK(judged(spec, {{5s, 500}, {11s, 0}, {12s, 500}}).result == kPassed);
  CHECK(judged(spec, {{12s, 500}}).result == kPassed);
}

TEST_CASE("always and never: closed at the start, open at until") {
  struct Row {
    const char* what;
    Kind kind;
    Duration zero_at;
    Outcome::Result result;
  };
  // The setpoint is 50 % from 1 s and 0 % from zero_at; the interval is [10 s, cut at 15 s).
  const Row rows[] = {
      {"always, holds throughout", Kind::always, 19s, kPassed},
      {"always, ends at the very until", Kind::always, 15s, kPassed},
      {"always, ends just before until", Kind::always, 15s - 1ns, kFailed},
      {"always, gone at the very start", Kind::always, 10s, kFailed},
      {"never, but it holds", Kind::never, 19s, kFailed},
      {"never, over just before", Kind::never, 10s - 1ns, kPassed},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto spec = scenario(20s);
    add_entry(spec, 15s, "cut field");
    Expectation expectation;
    expectation.kind = row.kind;
    expectation.from = at_time(10s);
    expectation.until = on(spec, "cut field");
    expectation.conditions = {that(spec, "heater.setpoint", Comparator::equals, 0.5)};
    spec.expectations = {expectation};
    CHECK(judged(spec, {{1s, 500}, {row.zero_at, 0}}).result == row.result);
  }
}

TEST_CASE("several conditions have to hold together") {
  auto spec = scenario(20s);
  Expectation expectation;
  expectation.kind = Kind::always;
  expectation.from = at_time(10s);
  expectation.conditions = {that(spec, "heater.setpoint", Comparator::equals, 0.5),
                            that(spec, "heater.state", Comparator::equals, 3)};
  spec.expectations = {expectation};
  CHECK(judged(spec, {{1s, 500}}).result == kPassed);
  add_entry(spec, 12s, "open heater.terminal.enable");
  const auto outcome = judged(spec, {{1s, 500}});
  CHECK(outcome.result == kFailed);
  CHECK_MESSAGE(outcome.sentence.find("heater.state was stopped") != std::string::npos, outcome.sentence);
}

TEST_CASE("nothing passes by silence: what cannot be judged is a failure that says so") {
  auto spec = scenario(20s);
  add_entry(spec, 15s, "cut field");
  Expectation late_anchor;
  late_anchor.kind = Kind::always;
  late_anchor.from = on(spec, "cut field", 2);
  late_anchor.conditions = {that(spec, "heater.setpoint", Comparator::equals, 0)};
  Expectation late_deadline;
  late_deadline.from = on(spec, "cut field");
  late_deadline.within = 10s;
  late_deadline.conditions = {that(spec, "heater.output", Comparator::above, 0.9)};
  Expectation no_write;
  no_write.kind = Kind::conduct;
  no_write.from = on(spec, "cut field");
  no_write.conduct = first_write(that(spec, "heater.setpoint", Comparator::at_most, 0));
  Expectation no_until;
  no_until.kind = Kind::always;
  no_until.until = on(spec, "restore field");
  no_until.conditions = late_anchor.conditions;
  Expectation after_end;
  after_end.kind = Kind::never;
  after_end.from = at_time(21s);
  after_end.conditions = late_deadline.conditions;
  for (const auto& expectation : {late_anchor, late_deadline, no_write, no_until, after_end}) {
    spec.expectations = {expectation};
    const auto outcome = judged(spec);
    CHECK(outcome.result == kNotJudged);
    CHECK_MESSAGE(outcome.sentence.find("could not be judged") == 0, outcome.sentence);
  }
}

TEST_CASE("an interval that is empty, or lies beyond the run, is not judged as kept") {
  auto spec = scenario(20s);
  add_entry(spec, 5s, "cut field");
  Expectation backwards;
  backwards.kind = Kind::always;
  backwards.from = at_time(10s);
  backwards.until = on(spec, "cut field");
  backwards.conditions = {that(spec, "heater.state", Comparator::equals, 3)};
  Expectation beyond = backwards;
  beyond.until = at_time(30s);
  for (const auto& expectation : {backwards, beyond}) {
    spec.expectations = {expectation};
    CHECK(judged(spec).result == kNotJudged);
  }
}

TEST_CASE("a run that is stopped half way judges nothing that could still have gone wrong") {
  auto spec = scenario(60s);
  Expectation always;
  always.kind = Kind::always;
  always.conditions = {that(spec, "heater.state", Comparator::equals, 3)};
  Expectation eventually;
  eventually.conditions = {that(spec, "heater.setpoint", Comparator::above, 0.1)};
  spec.expectations = {always, eventually};
  for (const auto& outcome : judge_all(spec, {}, 3s)) {
    CHECK(outcome.result == kNotJudged);
    CHECK_MESSAGE(outcome.sentence.find("the run ended first") != std::string::npos, outcome.sentence);
  }
}

TEST_CASE("the last instant of a run is not looked at unless something happens then") {
  auto spec = scenario(20s + 7ms);  // off the grid
  Expectation silent;
  silent.conditions = {that(spec, "heater.comms_age", Comparator::at_least, 19.007)};
  spec.expectations = {silent};
  const auto outcome = judged(spec, {{1s, 500}});
  CHECK(outcome.result == kPassed);
  CHECK(outcome.at == spec.ends);
}

TEST_CASE("a clock that overshoots the end makes a run longer than its file says") {
  auto spec = scenario(20s);
  toggle_field(spec, {20s + 1ms});
  Expectation never;
  never.kind = Kind::never;
  never.conditions = {field_is_cut(spec)};
  spec.expectations = {never};
  const auto outcome = judged(spec, {}, 20s + 5ms);
  CHECK(outcome.result == kPassed);
  CHECK(outcome.at == spec.ends);
}

TEST_CASE("a run without expectations is no pass") {
  const auto spec = scenario(1s);
  rehearsal::Rehearsal rehearsal(spec, 1, {});
  rehearsal.loop().run_through(spec.ends);
  CHECK_FALSE(rehearsal.verdict(0).passed);
}

TEST_CASE("first_write judges the first write after its anchor, with the value that was asked for") {
  auto spec = scenario(30s);
  add_entry(spec, 15s, "cut ethernet");
  Expectation expectation;
  expectation.kind = Kind::conduct;
  expectation.from = on(spec, "cut ethernet");
  expectation.conduct = first_write(that(spec, "heater.setpoint", Comparator::at_most, 0));
  spec.expectations = {expectation};
  CHECK(judged(spec, {{5s, 500}, {16s, 0}, {17s, 500}}).result == kPassed);
  const auto careless = judged(spec, {{5s, 500}, {16s, 500}, {17s, 0}});
  CHECK(careless.result == kFailed);
  CHECK_MESSAGE(careless.sentence.find("it was 50 % by plc at 16 s") != std::string::npos, careless.sentence);
}

TEST_CASE("a setpoint wrong by a power of ten is told so, refused ones included") {
  struct Row {
    int tenths;
    Outcome::Result result;
    const char* part;
  };
  const Row rows[] = {
      {50, kFailed, "a tenth of what was expected: wrong by a factor of 10"},
      {5, kFailed, "a hundredth of what was expected: wrong by a factor of 100"},
      {5000, kFailed, "500 % (refused)"},
      {5000, kFailed, "ten times what was expected: wrong by a factor of 10"},
      {505, kPassed, ""},
      {450, kFailed, "it was 45 % by plc at 1 s"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.tenths);
    auto spec = scenario(5s);
    Expectation expectation;
    expectation.kind = Kind::conduct;
    expectation.conduct = first_write(that(spec, "heater.setpoint", Comparator::near, 0.5, 0.01));
    spec.expectations = {expectation};
    const auto outcome = judged(spec, {{1s, row.tenths}});
    CHECK(outcome.result == row.result);
    CHECK_MESSAGE(outcome.sentence.find(row.part) != std::string::npos, outcome.sentence);
  }
}

TEST_CASE("the anchor of a cycle is its closing edge") {
  auto spec = scenario(20s);
  add_entry(spec, 10s, "cycle heater.terminal.enable");
  Expectation expectation;
  expectation.kind = Kind::always;
  expectation.from = on(spec, "cycle heater.terminal.enable");
  expectation.conditions = {that(spec, "heater.state", Comparator::equals, 3)};
  spec.expectations = {expectation};
  CHECK(judged(spec).result == kPassed);
  spec.expectations[0].from = at_time(10s);
  CHECK(judged(spec).result == kFailed);
}

TEST_CASE("a cycle of a wire that nothing closes again has a closing edge") {
  // Opened at half a second, it stays open: the bench itself finds no edge.
  auto spec = scenario(20s);
  add_entry(spec, 10s, "cycle heater.terminal.enable");
  add_entry(spec, 10s + 500ms, "open heater.terminal.enable");
  const auto edge = on(spec, "cycle heater.terminal.enable");
  Expectation expectation;
  expectation.kind = Kind::never;
  expectation.from = edge;
  expectation.conditions = {that(spec, "heater.state", Comparator::equals, 3)};
  spec.expectations = {expectation};
  const auto outcome = judged(spec);
  CHECK(outcome.result == kNotJudged);
  check_says(outcome, "did not come before the run ended");
  // The next one that closes it is the first.
  add_entry(spec, 12s, "release heater.terminal.enable");
  add_entry(spec, 14s, "cycle heater.terminal.enable");
  CHECK(judged(spec).result == kFailed);
  spec.expectations[0].kind = Kind::always;
  CHECK(judged(spec).result == kPassed);
  spec.expectations[0].from->plus = 4s;
  spec.expectations[0].until = at_time(19s);
  CHECK(judged(spec).result == kNotJudged);
  spec.expectations[0].until = at_time(19s + 1ms);
  CHECK(judged(spec).result == kPassed);
}

TEST_CASE("a cycle that is cut short, or ends with another opening, has no closing edge, or a late one") {
  struct Row {
    const char* then;
    Duration when;
    Duration edge;
  };
  for (const auto& row : {Row{"release heater.terminal.enable", 10s + 330ms, 10s + 330ms},
                          Row{"close heater.terminal.enable", 10s + 330ms, 10s + 330ms},
                          Row{"open heater.terminal.enable", 11s, 11s},
                          Row{"cycle heater.terminal.enable", 10s + 330ms, 11s + 330ms}}) {
    CAPTURE(row.then);
    auto spec = scenario(30s);
    add_entry(spec, 10s, "cycle heater.terminal.enable");
    add_entry(spec, row.when, row.then);
    add_entry(spec, row.edge + 5s, "cut field");
    Expectation expectation;
    expectation.kind = Kind::always;
    expectation.from = on(spec, "cycle heater.terminal.enable");
    expectation.conditions = {that(spec, "field.state", Comparator::equals, 0)};
    expectation.until = at_time(row.edge + 1ns);
    spec.expectations = {expectation};
    CHECK(judged(spec).result == kPassed);
    spec.expectations[0].until = at_time(row.edge);
    CHECK(judged(spec).result == kNotJudged);
  }
}

TEST_CASE("each comparator says what it says") {
  const auto spec = scenario(1s);
  struct Row {
    Comparator comparator;
    double a, b, value;
    bool result;
  };
  const Row rows[] = {
      {Comparator::equals, 0.5, 0, 500 * 0.001, true},
      {Comparator::equals, 0.5, 0, 0.501, false},
      {Comparator::not_equal, 3, 0, 4, true},
      {Comparator::not_equal, 3, 0, 3, false},
      {Comparator::above, 1, 0, 1, false},
      {Comparator::above, 1, 0, 1.1, true},
      {Comparator::below, 1, 0, 1, false},
      {Comparator::at_least, 1, 0, 1, true},
      {Comparator::at_most, 1, 0, 1, true},
      {Comparator::at_most, 1, 0, 1.1, false},
      {Comparator::between, 1, 2, 2, true},
      {Comparator::between, 1, 2, 2.1, false},
      {Comparator::near, 50, 1, 49, true},
      {Comparator::near, 50, 1, 48.9, false},
      {Comparator::include, 5, 0, 7, true},
      {Comparator::include, 5, 0, 3, false},
      {Comparator::exclude, 5, 0, 2, true},
      {Comparator::exclude, 5, 0, 4, false},
  };
  for (const auto& row : rows) {
    CAPTURE(static_cast<int>(row.comparator));
    CAPTURE(row.value);
    CHECK(rehearsal::holds(that(spec, "oven.temperature", row.comparator, row.a, row.b), row.value) ==
          row.result);
  }
  const auto nan = std::numeric_limits<double>::quiet_NaN();
  CHECK_FALSE(rehearsal::holds(that(spec, "oven.temperature", Comparator::at_most, 1), nan));
  CHECK_FALSE(rehearsal::holds(that(spec, "oven.temperature", Comparator::exclude, 1), nan));
}
