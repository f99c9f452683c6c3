// `for` of that and eventually, `for` of always and never, and how `until` cuts them short.
#include <string>

#include "tests/sim/rehearsal/story.hpp"

using namespace emberline;
using namespace emberline::testing;

TEST_CASE("that, for: a stretch a nanosecond too short passes, or one as long as asked fails") {
  struct Row {
    const char* what;
    std::vector<Duration> cut_and_restored;
    std::optional<Duration> within;
    bool becomes;
    Outcome::Result result;
    Duration decided;
    const char* part;
  };
  // The interval begins at 10 s; the line has to be cut for 5 s.
  const Row rows[] = {
      {"exactly so long, and gone behind its end",
       {12s, 17s + 1ns},
       3s,
       false,
       kPassed,
       17s,
       "for 5 s, 2 s from 10 s"},
      {"an instant short", {12s, 17s - 1ns}, 3s, false, kFailed, 17s - 1ns, "it held for 5 s only"},
      {"gone at the very instant", {12s, 17s}, 3s, false, kFailed, 17s, "it held for 5 s only"},
      {"begins at the very deadline", {13s}, 3s, false, kPassed, 18s, ""},
      {"begins behind the deadline", {13s + 1ns}, 3s, false, kFailed, 13s, "when the time was up"},
      {"already so, and long enough from the beginning", {5s, 15s + 1ms}, 3s, false, kPassed, 15s, ""},
      {"already so, but too short from the beginning",
       {5s, 14s},
       3s,
       false,
       kFailed,
       14s,
       "it held for 4 s only"},
      {"already so does not become so", {5s}, 3s, true, kFailed, 13s, "it was so all along"},
      {"becomes so once more", {5s, 11s, 12s}, 3s, true, kPassed, 17s, ""},
      {"the second stretch is long enough", {11s, 12s, 13s}, 3s, false, kPassed, 18s, ""},
      {"the first too short, the second too late",
       {11s, 12s, 14s},
       3s,
       false,
       kFailed,
       13s,
       "the longest it held was 1 s"},
      {"no deadline", {40s}, {}, false, kPassed, 45s, ""},
      {"no deadline, and never so", {61s}, {}, false, kFailed, 60s, "it did not come until the end"},
      {"no deadline, never long enough", {30s, 34s}, {}, false, kFailed, 60s, "the longest it held was 4 s"},
      {"the run ends at its last instant", {55s}, {}, false, kPassed, 60s, ""},
      {"the run ends before", {55s + 1ms}, {}, false, kNotJudged, 60s, "the run ended first, at 60 s"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto spec = scenario(60s);
    toggle_field(spec, row.cut_and_restored);
    Expectation expectation;
    expectation.from = at_time(10s);
    expectation.within = row.within;
    expectation.holds_for = 5s;
    expectation.becomes = row.becomes;
    expectation.conditions = {field_is_cut(spec)};
    spec.expectations = {expectation};
    const auto outcome = judged(spec);
    CHECK(outcome.result == row.result);
    CHECK(to_seconds(*outcome.at) == doctest::Approx(to_seconds(row.decided)));
    check_says(outcome, row.part);
  }
}

TEST_CASE("that, for: a stretch that reaches to `until` counts") {
  struct Row {
    Duration until;
    Outcome::Result result;
  };
  // Cut from 12 s on, 5 s asked for: the last of them is the instant 17 s, which `until` may not take away.
  const Row rows[] = {{17s + 1ns, kPassed}, {17s, kFailed}, {16s, kFailed}, {12s, kFailed}};
  for (const auto& row : rows) {
    auto spec = scenario(30s);
    toggle_field(spec, {12s});
    Expectation expectation;
    expectation.from = at_time(10s);
    expectation.until = at_time(row.until);
    expectation.holds_for = 5s;
    expectation.conditions = {field_is_cut(spec)};
    spec.expectations = {expectation};
    const auto outcome = judged(spec);
    CHECK(outcome.result == row.result);
    if (row.until == 17s) check_says(outcome, "it had held for 5 s, whose last instant is outside");
    if (row.until == 16s) check_says(outcome, "it had held for 4 s only");
  }
}

TEST_CASE("always and never, for: an end that comes first lets them pass as if they had lasted") {
  for (const auto kind : {Kind::always, Kind::never}) {
    for (const Duration until : {Duration{12s}, Duration{15s}, Duration{15s + 1ns}}) {
      auto spec = scenario(30s);
      if (kind == Kind::always) toggle_field(spec, {5s});
      Expectation expectation;
      expectation.kind = kind;
      expectation.from = at_time(10s);
      expectation.until = at_time(until);
      expectation.holds_for = 5s;
      expectation.conditions = {field_is_cut(spec)};
      spec.expectations = {expectation};
      const auto outcome = judged(spec);
      CHECK(outcome.result == (until > 15s ? kPassed : kNotJudged));
      if (until == 12s)
        check_says(outcome, "its end '12 s' came at 12 s, before it had lasted for 5 s from 10 s");
    }
  }
}

TEST_CASE("that, not_before: a stretch that begins too early is taken") {
  auto spec = scenario(30s);
  toggle_field(spec, {11s});
  Expectation expectation;
  expectation.from = at_time(10s);
  expectation.not_before = 2s;
  expectation.holds_for = 5s;
  expectation.conditions = {field_is_cut(spec)};
  spec.expectations = {expectation};
  const auto outcome = judged(spec);
  CHECK(outcome.result == kFailed);
  check_says(outcome, "too early");
}

TEST_CASE("always and never, for: the last instant of their time is left out, or one more is looked at") {
  struct Row {
    const char* what;
    Kind kind;
    std::vector<Duration> cut_and_restored;
    Outcome::Result result;
    Duration decided;
  };
  // From 10 s for 5 s.
  const Row rows[] = {
      {"always, gone behind the last instant", Kind::always, {5s, 15s + 1ns}, kPassed, 15s},
      {"always, gone at the last instant", Kind::always, {5s, 15s}, kFailed, 15s},
      {"always, from the very beginning", Kind::always, {10s}, kPassed, 15s},
      {"always, an instant late", Kind::always, {10s + 1ns}, kFailed, 10s},
      {"never, but at the last instant", Kind::never, {15s}, kFailed, 15s},
      {"never, behind the last instant", Kind::never, {15s + 1ns}, kPassed, 15s},
      {"never, at all", Kind::never, {}, kPassed, 15s},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto spec = scenario(30s);
    toggle_field(spec, row.cut_and_restored);
    Expectation expectation;
    expectation.kind = row.kind;
    expectation.from = at_time(10s);
    expectation.holds_for = 5s;
    expectation.conditions = {field_is_cut(spec)};
    spec.expectations = {expectation};
    const auto outcome = judged(spec);
    CHECK(outcome.result == row.result);
    CHECK(to_seconds(*outcome.at) == doctest::Approx(to_seconds(row.decided)));
    CHECK(outcome.around.rows.empty() == (row.result == kPassed));
  }
}

TEST_CASE("always, for: it is judged beyond an earlier until, or left open by one that never comes") {
  auto spec = scenario(30s);
  toggle_field(spec, {5s, 13s});
  Expectation expectation;
  expectation.kind = Kind::always;
  expectation.from = at_time(10s);
  expectation.holds_for = 5s;
  expectation.conditions = {field_is_cut(spec)};
  expectation.until = at_time(13s);
  spec.expectations = {expectation};
  CHECK(judged(spec).result == kNotJudged);
  spec.expectations[0].holds_for = 3s;  // both end at 13 s: before it, not with it
  CHECK(judged(spec).result == kNotJudged);
  spec.expectations[0].holds_for = 3s - 1ns;
  CHECK(judged(spec).result == kPassed);
  spec.expectations[0].holds_for = 5s;
  spec.expectations[0].until = on(spec, "cut ethernet");
  CHECK(judged(spec).result == kFailed);
  spec.expectations[0].holds_for = 2s;
  CHECK(judged(spec).result == kPassed);
  spec.expectations[0].holds_for.reset();
  spec.timeline.pop_back();  // it stays cut
  const auto open = judged(spec);
  CHECK(open.result == kNotJudged);
  check_says(open, "its end 'cut ethernet' did not come before the run ended");
}

TEST_CASE("a time that reaches beyond the run, or beyond where it was stopped, passes unfinished") {
  auto spec = scenario(30s);
  toggle_field(spec, {5s});
  Expectation expectation;
  expectation.kind = Kind::always;
  expectation.from = at_time(10s);
  expectation.conditions = {field_is_cut(spec)};
  for (const Duration length : {20s, 21s}) {
    expectation.holds_for = length;
    spec.expectations = {expectation};
    CHECK(judged(spec).result == (length == 20s ? kPassed : kNotJudged));
    const auto stopped = judged(spec, {}, 25s);
    CHECK(stopped.result == kNotJudged);
    check_says(stopped, "the run ended first, at 25 s");
  }
}
