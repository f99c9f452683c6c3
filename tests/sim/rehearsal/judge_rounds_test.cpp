// What expectations being met brings about at the same instant, ends that come again, and signals without a
// value.
#include <string>

#include "tests/sim/rehearsal/story.hpp"

using namespace emberline;
using namespace emberline::testing;

namespace {

Expectation about(const char* name, Kind kind, Condition condition) {
  Expectation expectation;
  expectation.name = name;
  expectation.kind = kind;
  expectation.conditions = {std::move(condition)};
  return expectation;
}

/// Field is cut at 20 s; being seen so lets the timeline restore it, at that very instant.
rehearsal::ScenarioSpec restored_at_once() {
  auto spec = scenario(60s);
  toggle_field(spec, {20s});
  add_entry(spec, 0s, "restore field");
  spec.timeline.back().when = met("cut");
  spec.expectations = {about("cut", Kind::within, field_is_cut(spec))};
  return spec;
}

}  // namespace

TEST_CASE("what an expectation being met sets off is not yet done when the others look at that instant") {
  const auto story = restored_at_once();
  const auto normal = that(story, "field.state", Comparator::equals, 0);
  std::vector<Expectation> rows;
  rows.push_back(about("until the entry", Kind::never, field_is_cut(story)));
  rows.back().until = on(story, "restore field");
  rows.push_back(about("never, as the instant ends", Kind::never, field_is_cut(story)));
  rows.push_back(about("in time", Kind::within, normal));
  rows.back().from = at_time(20s);
  rows.back().within = Duration{};
  rows.push_back(about("becomes", Kind::within, normal));
  rows.back().from = on(story, "restore field");
  rows.back().becomes = true;
  rows.push_back(about("from the entry", Kind::always, normal));
  rows.back().from = on(story, "restore field");
  rows.push_back(about("step in time", Kind::sequence, normal));
  rows.back().conditions.clear();
  rows.back().from = at_time(10s);
  rehearsal::SequenceStep step;
  step.happens = on(story, "restore field");
  step.within = 10s;
  step.text = "restore field";
  rows.back().sequence = {step};
  for (const auto& row : rows) {
    for (const bool first_in_file : {false, true}) {
      CAPTURE(row.name);
      CAPTURE(first_in_file);
      auto spec = story;
      spec.expectations.insert(first_in_file ? spec.expectations.begin() : spec.expectations.end(), row);
      const auto outcomes = judge_all(spec);
      const bool becomes = row.becomes;  // normal all along, as far as ends of instants go
      CHECK(outcomes[first_in_file ? 1 : 0].result == kPassed);
      CHECK_MESSAGE(outcomes[first_in_file ? 0 : 1].result == (becomes ? kFailed : kPassed),
                    outcomes[first_in_file ? 0 : 1].sentence);
    }
  }
}

TEST_CASE("becomes: what turns true at the instant an interval begins is missed in a further round of it") {
  // Cut at 10 s; at 20 s, when that has lasted for 10 s, the timeline restores it, and there it begins.
  auto spec = scenario(60s);
  toggle_field(spec, {10s});
  add_entry(spec, 0s, "restore field");
  spec.timeline.back().when = met("lasts");
  auto lasts = about("lasts", Kind::always, field_is_cut(spec));
  lasts.from = on(spec, "cut field");
  lasts.holds_for = 10s;
  auto becomes = about("becomes", Kind::within, that(spec, "field.state", Comparator::equals, 0));
  becomes.from = on(spec, "restore field");
  becomes.becomes = true;
  becomes.within = 1s;
  spec.expectations = {becomes, lasts};
  for (const auto& outcome : judge_all(spec)) {
    CHECK(outcome.result == kPassed);
    CHECK(to_seconds(*outcome.at) == doctest::Approx(20));
  }
}

TEST_CASE("a write counts twice, or not at all, when its instant goes round once more") {
  auto spec = restored_at_once();
  add_entry(spec, 0s, "cut ethernet");
  spec.timeline.back().when = met("written once");
  Expectation once = about("written once", Kind::conduct, field_is_cut(spec));
  once.conditions.clear();
  once.conduct = first_write(that(spec, "heater.setpoint", Comparator::equals, 1));
  once.conduct->kind = rehearsal::ConductKind::write_count;
  once.within = 30s;
  auto after = once;  // nothing hangs on this one
  after.name = "after the entry";
  after.from = on(spec, "restore field");
  // The counted one is looked at first, and told; only then the timeline restores the line.
  spec.expectations = {once, spec.expectations[0], after};
  spec.expectations[0].name = "written once";
  std::swap(spec.timeline[1], spec.timeline[2]);
  for (const auto& outcome : judge_all(spec, {{20s, 500}}))
    CHECK_MESSAGE(outcome.result == kPassed, outcome.sentence);
}

TEST_CASE("until: an action that was done before the beginning ends an interval, or no later one does") {
  struct Row {
    const char* what;
    Duration from;
    Outcome::Result result;
    const char* part;
  };
  // Restored at 10 s and 30 s, ethernet cut at 40 s: it never is, from then until field is restored.
  const Row rows[] = {
      {"the first is the end", 5s, kPassed, "until restore field"},
      {"the second is the end", 15s, kPassed, "until restore field"},
      {"it comes with the beginning", 30s, kNotJudged,
       "its end 'restore field' came at 30 s, with its beginning"},
      {"there is none any more", 45s, kNotJudged,
       "its end 'restore field' did not come before the run ended, it came at 10 s, before its beginning at "
       "45 s"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto spec = scenario(60s);
    toggle_field(spec, {8s, 10s, 25s, 30s});
    add_entry(spec, 40s, "cut ethernet");
    add_entry(spec, 41s, "restore ethernet");
    spec.expectations = {about("never", Kind::never, that(spec, "ethernet.state", Comparator::equals, 1))};
    spec.expectations[0].from = at_time(row.from);
    spec.expectations[0].until = on(spec, "restore field");
    const auto outcome = judged(spec);
    CHECK(outcome.result == row.result);
    check_says(outcome, row.part);
    // The entry comes once.
    spec.expectations[0].until = entry(1);
    const auto once = judged(spec);
    CHECK(once.result == (row.from == 5s ? kPassed : kNotJudged));
    if (row.from == 15s) check_says(once, "its end 'entry' came at 10 s, before its beginning at 15 s");
  }
}

TEST_CASE("until: the closing edge of a cycle that is still to come is missed, or its plus") {
  auto spec = scenario(60s);
  add_entry(spec, 20s, "cycle heater.terminal.enable");  // its moment is 21 s
  add_entry(spec, 23s, "cut ethernet");
  spec.expectations = {about("never", Kind::never, that(spec, "ethernet.state", Comparator::equals, 1))};
  spec.expectations[0].from = at_time(20s + 500ms);
  spec.expectations[0].until = on(spec, "cycle heater.terminal.enable");
  CHECK(judged(spec).result == kPassed);
  spec.expectations[0].from = at_time(22s);
  CHECK(judged(spec).result == kFailed);
  spec.expectations[0].until = plus(on(spec, "cycle heater.terminal.enable"), 2s);
  CHECK(judged(spec).result == kPassed);
}

TEST_CASE("a sensor that is broken is not at 25 degC, and so what is waited for has come") {
  // Everything is at 25 degC; the sensor is broken from 20 s on, for good or to 30 s.
  for (const bool mended : {false, true}) {
    CAPTURE(mended);
    auto spec = scenario(60s);
    add_entry(spec, 20s, "sensor_broken oven");
    if (mended) add_entry(spec, 30s, "mend oven");
    add_entry(spec, 50s, "cut field");
    const auto left = that(spec, "oven.measured", Comparator::not_equal, 25);
    const auto unjudged = [&](Expectation expectation) {
      expectation.from = at_time(10s);
      spec.expectations = {std::move(expectation)};
      const auto outcome = judged(spec);
      CHECK(outcome.result == kNotJudged);
      check_says(outcome, "could not be judged: oven.measured had no value at 20 s in the interval");
    };
    auto expectation = about("that", Kind::within, left);
    unjudged(expectation);
    expectation.becomes = true;
    unjudged(expectation);
    expectation.holds_for = 5s;
    unjudged(expectation);
    expectation.within = 15s;
    unjudged(expectation);
    unjudged(about("never", Kind::never, left));
    unjudged(about("always", Kind::always, that(spec, "oven.measured", Comparator::not_equal, 500)));
    expectation = about("comes", Kind::count, left);
    expectation.at_least = 1;
    unjudged(expectation);
    expectation.at_least.reset();
    expectation.at_most = 0;
    unjudged(expectation);
    expectation = about("sequence", Kind::sequence, left);
    expectation.conditions.clear();
    auto& step = expectation.sequence.emplace_back();
    step.conditions = {left};
    step.text = "has left";
    unjudged(expectation);
    // As a moment it does not come: the cut is in the interval, and nothing began.
    spec.expectations = {about("until", Kind::never, field_is_cut(spec))};
    spec.expectations[0].until = when({left});
    CHECK(judged(spec).result == kFailed);
    spec.expectations[0].until.reset();
    spec.expectations[0].from = when({left});
    CHECK(judged(spec).result == kNotJudged);
  }
}

TEST_CASE("what a gap may hide is passed, or a gap makes a plain failure one that cannot be judged") {
  struct Row {
    const char* what;
    Comparator comparator;
    double value;
    Duration not_before;
    bool becomes;
    Outcome::Result result;
  };
  // 25 degC, broken from 15 s to 16 s, broken for good from 30 s by an offset that shows 35 degC; from 10 s.
  const Row rows[] = {
      {"it may have left too early", Comparator::not_equal, 25, 10s, false, kNotJudged},
      {"it left too early for certain", Comparator::not_equal, 25, 25s, false, kFailed},
      {"it may have left before that counted", Comparator::not_equal, 25, 0s, false, kPassed},
      {"it was so all along, as far as is known", Comparator::below, 30, 0s, true, kNotJudged},
      {"it becomes so later", Comparator::above, 30, 0s, true, kPassed},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto spec = scenario(60s);
    add_entry(spec, 15s, "sensor_broken oven");
    add_entry(spec, 16s, "mend oven");
    add_entry(spec, 30s, "sensor_offset oven by 10 K");
    auto expectation = about("one", Kind::within, that(spec, "oven.measured", row.comparator, row.value));
    expectation.from = at_time(10s);
    expectation.within = 40s;
    expectation.not_before = row.not_before;
    expectation.becomes = row.becomes;
    spec.expectations = {expectation};
    const auto outcome = judged(spec);
    CHECK_MESSAGE(outcome.result == row.result, outcome.sentence);
  }
}

TEST_CASE("a gap after the time is up makes what was holding a plain failure") {
  auto spec = scenario(60s);
  add_entry(spec, 15s, "sensor_broken oven");
  auto expectation = about("one", Kind::within, that(spec, "oven.measured", Comparator::not_equal, 500));
  expectation.from = at_time(10s);
  expectation.within = 2s;
  expectation.holds_for = 10s;
  spec.expectations = {expectation};
  CHECK(judged(spec).result == kNotJudged);
}

TEST_CASE("a step of a sequence that a gap hides is taken for later than it may have been") {
  auto spec = scenario(60s);
  add_entry(spec, 15s, "sensor_broken oven");
  add_entry(spec, 16s, "mend oven");
  add_entry(spec, 30s, "sensor_offset oven by 10 K");
  add_entry(spec, 31s, "cut field");
  auto expectation = about("sequence", Kind::sequence, field_is_cut(spec));
  expectation.conditions.clear();
  auto& left = expectation.sequence.emplace_back();
  left.conditions = {that(spec, "oven.measured", Comparator::not_equal, 25)};
  left.text = "has left";
  auto& cut = expectation.sequence.emplace_back();
  cut.conditions = {field_is_cut(spec)};
  cut.text = "is cut";
  spec.expectations = {expectation};
  CHECK(judged(spec).result == kPassed);
  spec.expectations[0].sequence[1].within = 2s;
  const auto outcome = judged(spec);
  CHECK(outcome.result == kNotJudged);
  check_says(outcome,
             "oven.measured had no value at 15 s in the interval, while 1 (has left) was waited for");
}

TEST_CASE("a gap in a signal is another coming of what held before and after it") {
  auto spec = scenario(60s);
  add_entry(spec, 20s, "sensor_broken oven");
  add_entry(spec, 21s, "mend oven");
  const auto cool = that(spec, "oven.measured", Comparator::below, 600);
  auto expectation = about("comes", Kind::count, cool);
  expectation.at_least = 2;
  spec.expectations = {expectation};
  CHECK(judged(spec).result == kNotJudged);
  spec.expectations = {about("never", Kind::never, field_is_cut(spec))};
  spec.expectations[0].from = when({cool}, 2);
  CHECK(judged(spec).result == kNotJudged);
}

TEST_CASE("what must not be passes while its signal has no value") {
  struct Row {
    const char* what;
    Kind kind;
    Comparator comparator;
    double value;
    std::optional<int> at_least, at_most;
    Outcome::Result result;
  };
  // Everything is at 20 degC; the sensor is broken from 20 s to 21 s.
  const Row rows[] = {
      {"never above", Kind::never, Comparator::above, 600, {}, {}, kNotJudged},
      {"always not", Kind::always, Comparator::not_equal, 600, {}, {}, kNotJudged},
      {"comes at most never", Kind::count, Comparator::above, 600, {}, 0, kNotJudged},
      {"comes at least once", Kind::count, Comparator::below, 600, 1, {}, kPassed},
      {"never below: it was", Kind::never, Comparator::below, 600, {}, {}, kFailed},
      {"always below: it was not", Kind::always, Comparator::below, 600, {}, {}, kFailed},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto spec = scenario(60s);
    add_entry(spec, 20s, "sensor_broken oven");
    add_entry(spec, 21s, "mend oven");
    auto expectation = about("one", row.kind, that(spec, "oven.measured", row.comparator, row.value));
    expectation.at_least = row.at_least;
    expectation.at_most = row.at_most;
    spec.expectations = {expectation};
    const auto outcome = judged(spec);
    CHECK(outcome.result == row.result);
    if (row.result == kNotJudged)
      check_says(outcome, "could not be judged: oven.measured had no value at 20 s in the interval");
    // Another condition that does not hold says enough.
    spec.expectations[0].conditions.push_back(field_is_cut(spec));
    if (row.kind != Kind::always && row.at_least.value_or(0) == 0) CHECK(judged(spec).result == kPassed);
    spec.expectations[0].conditions.pop_back();
    spec.expectations[0].from = at_time(30s);
    if (row.result == kNotJudged) CHECK(judged(spec).result == kPassed);
  }
}
