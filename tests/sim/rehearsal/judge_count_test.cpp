#include <string>

#include "tests/sim/rehearsal/story.hpp"

using namespace emberline;
using namespace emberline::testing;

TEST_CASE("comes: times are miscounted, at the ends of an interval above all") {
  struct Row {
    const char* what;
    std::vector<Duration> cut_and_restored;
    std::optional<int> at_least, at_most;
    Outcome::Result result;
    Duration decided;
    const char* part;
  };
  // From 10 s within 20 s: the instants 10 s and 30 s are inside.
  const Row rows[] = {
      {"twice as asked, passed at the second",
       {11s, 12s, 13s},
       2,
       {},
       kPassed,
       13s,
       "came 2 times within 20 s from 10 s"},
      {"once only",
       {11s, 12s},
       2,
       {},
       kFailed,
       30s,
       "to come at least 2 times within 20 s from 10 s; it came once, last at 11 s"},
      {"holding at the beginning counts", {5s, 11s, 12s}, 2, {}, kPassed, 12s, ""},
      {"coming at the very beginning counts once", {10s, 11s, 12s}, 3, {}, kFailed, 30s, "it came 2 times"},
      {"over just before the beginning", {5s, 10s - 1ns}, 1, {}, kFailed, 30s, "it never came"},
      {"at the very end", {30s}, 1, {}, kPassed, 30s, ""},
      {"behind the end", {30s + 1ns}, 1, {}, kFailed, 30s, ""},
      {"holding on is no second time", {11s}, 2, {}, kFailed, 30s, ""},
      {"at most twice, as it was", {11s, 12s, 13s}, {}, 2, kPassed, 30s, ""},
      {"at most once, failed at the second", {11s, 12s, 13s}, {}, 1, kFailed, 13s, "to come at most once"},
      {"at most never", {10s}, {}, 0, kFailed, 10s, "expected field.state cut to come never within"},
      {"at most never, nor does it", {31s}, {}, 0, kPassed, 30s, ""},
      {"exactly twice", {11s, 12s, 13s}, 2, 2, kPassed, 30s, ""},
      {"exactly twice, but thrice", {11s, 12s, 13s, 14s, 15s}, 2, 2, kFailed, 15s, "to come exactly 2 times"},
      {"exactly never", {10s}, 0, 0, kFailed, 10s, "expected field.state cut to come never within"},
      {"exactly twice, but once", {11s}, 2, 2, kFailed, 30s, ""},
      {"between, too few", {11s}, 2, 3, kFailed, 30s, "at least 2 times and at most 3 times"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto spec = scenario(40s);
    toggle_field(spec, row.cut_and_restored);
    Expectation expectation;
    expectation.kind = Kind::count;
    expectation.from = at_time(10s);
    expectation.within = 20s;
    expectation.at_least = row.at_least;
    expectation.at_most = row.at_most;
    expectation.conditions = {field_is_cut(spec)};
    spec.expectations = {expectation};
    const auto outcome = judged(spec);
    CHECK(outcome.result == row.result);
    CHECK(to_seconds(*outcome.at) == doctest::Approx(to_seconds(row.decided)));
    check_says(outcome, row.part);
  }
}

TEST_CASE("comes: what comes at `until` counts, or a run that ends early has counted") {
  auto spec = scenario(40s);
  toggle_field(spec, {11s, 12s, 20s});
  Expectation expectation;
  expectation.kind = Kind::count;
  expectation.until = at_time(20s);
  expectation.at_most = 1;
  expectation.conditions = {field_is_cut(spec)};
  spec.expectations = {expectation};
  CHECK(judged(spec).result == kPassed);
  CHECK(judged(spec, {}, 15s).result == kNotJudged);
  spec.expectations[0].until = at_time(20s + 1ns);
  CHECK(judged(spec).result == kFailed);
  spec.expectations[0].until = on(spec, "cut ethernet");
  CHECK(judged(spec).result == kFailed);
  spec.expectations[0].at_most = 5;
  CHECK(judged(spec).result == kNotJudged);
  spec.expectations[0].until.reset();
  CHECK(judged(spec).result == kPassed);
}
