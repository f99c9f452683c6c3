// Where intervals begin and end when that is only known as the run goes.
#include <string>

#include "sim/rehearsal/waiting.hpp"
#include "tests/sim/rehearsal/story.hpp"

using namespace emberline;
using namespace emberline::testing;

namespace {

/// Always, from `from` on, the line ethernet is not cut; it is cut at 20 s for 1 s. So it passes if, and only
/// if, the interval does not take in 20 s.
Expectation clear_of_20_s(const rehearsal::ScenarioSpec& spec, std::optional<rehearsal::Anchor> from,
                          std::optional<rehearsal::Anchor> until = {}) {
  Expectation expectation;
  expectation.name = "clear";
  expectation.kind = Kind::always;
  expectation.from = std::move(from);
  expectation.until = std::move(until);
  expectation.conditions = {that(spec, "ethernet.state", Comparator::equals, 0)};
  return expectation;
}

/// Cut at 20 s for an instant.
rehearsal::ScenarioSpec story() {
  auto spec = scenario(60s);
  add_entry(spec, 20s, "cut ethernet");
  add_entry(spec, 20s + 1ns, "restore ethernet");
  return spec;
}

}  // namespace

TEST_CASE("an interval begins too early or too late after what it hangs on") {
  struct Row {
    const char* what;
    std::vector<Duration> cut_and_restored;
    int nth;
    Duration plus;
    Outcome::Result result;
    const char* part;
  };
  // The anchor: field comes to be cut. The interval must not take in 20 s, when it is sure to fail.
  const Row rows[] = {
      {"at that very instant", {20s}, 1, 0s, kFailed, "after field.state cut (20 s)"},
      {"just behind it", {20s + 1ns}, 1, 0s, kPassed, ""},
      {"just before it", {20s - 1ns}, 1, 0s, kFailed, ""},
      {"so at the start of the run", {0s}, 1, 0s, kFailed, "after field.state cut (0 s)"},
      {"so at the start is the first time", {0s, 5s, 25s}, 2, 0s, kPassed, ""},
      {"the second time", {5s, 10s, 20s + 1ns}, 2, 0s, kPassed, ""},
      {"the second time, too early", {5s, 10s, 19s}, 2, 0s, kFailed, ""},
      {"plus", {15s}, 1, 5s + 1ns, kPassed, ""},
      {"plus, at that very instant", {15s}, 1, 5s, kFailed, ""},
      {"never", {}, 1, 0s, kNotJudged, "its anchor 'field.state cut' did not come before the run ended"},
      {"not so often", {5s, 6s}, 2, 0s, kNotJudged, ""},
      {"with the last instant", {60s}, 1, 0s, kNotJudged, "it begins with the end of the run, at 60 s"},
      {"plus, beyond the run", {55s}, 1, 6s, kNotJudged, "the run ended first"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto spec = story();
    toggle_field(spec, row.cut_and_restored);
    spec.expectations = {clear_of_20_s(spec, plus(when({field_is_cut(spec)}, row.nth), row.plus))};
    const auto outcome = judged(spec);
    CHECK(outcome.result == row.result);
    check_says(outcome, row.part);
  }
}

TEST_CASE("until conditions: the interval takes in their instant, or one before its beginning ends it") {
  struct Row {
    const char* what;
    std::vector<Duration> cut_and_restored;
    Outcome::Result result;
  };
  // From 10 s until field is cut.
  const Row rows[] = {
      {"just before", {20s - 1ns}, kPassed},
      {"at the very instant", {20s}, kPassed},
      {"an instant later", {20s + 1ns}, kFailed},
      {"holding at the beginning already", {5s}, kNotJudged},
      {"over at the beginning", {5s, 10s, 15s}, kPassed},
      {"coming at the very beginning", {10s}, kNotJudged},
      {"never, but it fails before", {}, kFailed},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto spec = story();
    toggle_field(spec, row.cut_and_restored);
    spec.expectations = {clear_of_20_s(spec, at_time(10s), when({field_is_cut(spec)}))};
    CHECK(judged(spec).result == row.result);
  }
}

TEST_CASE("entries by name, actions and their plus are the same moments as before the run") {
  auto spec = story();
  add_entry(spec, 10s, "cycle heater.terminal.enable");  // number 2; its moment is 11 s
  const auto cycled = on(spec, "cycle heater.terminal.enable");
  for (const auto& anchor : {entry(2), cycled}) {
    spec.expectations = {clear_of_20_s(spec, plus(anchor, 9s))};
    CHECK(judged(spec).result == kFailed);
    spec.expectations = {clear_of_20_s(spec, plus(anchor, 9s + 1ns))};
    CHECK(judged(spec).result == kPassed);
    spec.expectations = {clear_of_20_s(spec, at_time(5s), plus(anchor, 9s))};
    CHECK(judged(spec).result == kPassed);
    spec.expectations = {clear_of_20_s(spec, at_time(5s), plus(anchor, 9s + 1ns))};
    CHECK(judged(spec).result == kFailed);
  }
}

TEST_CASE("met: an interval does not begin with what passes, at the same instant, wherever that stands") {
  struct Row {
    const char* what;
    Duration cut_at;
    Outcome::Result other, result;
  };
  const Row rows[] = {
      {"met before", 15s, kPassed, kFailed},
      {"met at the very instant", 20s, kPassed, kFailed},
      {"met behind it", 20s + 1ns, kPassed, kPassed},
      {"never met", 70s, kFailed, kNotJudged},
      {"met with the last instant", 60s, kPassed, kNotJudged},
  };
  for (const auto& row : rows) {
    for (const bool swapped : {false, true}) {
      CAPTURE(row.what);
      CAPTURE(swapped);
      auto spec = story();
      toggle_field(spec, {row.cut_at});
      Expectation cut;
      cut.name = "cut";
      cut.conditions = {field_is_cut(spec)};
      spec.expectations = {cut, clear_of_20_s(spec, met("cut"))};
      if (swapped) std::swap(spec.expectations[0], spec.expectations[1]);
      const auto outcomes = judge_all(spec);
      CHECK(outcomes[swapped ? 1 : 0].result == row.other);
      CHECK(outcomes[swapped ? 0 : 1].result == row.result);
    }
  }
}

TEST_CASE("what passes, or begins, with the end of the run lets others pass by a single instant") {
  auto spec = story();
  Expectation never;
  never.name = "never";
  never.kind = Kind::never;
  never.conditions = {field_is_cut(spec)};
  auto failing = clear_of_20_s(spec, met("never"));
  failing.conditions = {field_is_cut(spec)};
  spec.expectations = {failing, never, clear_of_20_s(spec, met("never"))};
  spec.expectations[2].name = "clear too";
  const auto outcomes = judge_all(spec);
  CHECK(outcomes[0].result == kNotJudged);
  CHECK(outcomes[1].result == kPassed);
  CHECK(outcomes[2].result == kNotJudged);
  check_says(outcomes[2], "it begins with the end of the run, at 60 s");
  auto counted = failing;
  counted.kind = Kind::count;
  counted.at_most = 0;
  auto written = failing;
  written.kind = Kind::conduct;
  written.conduct = first_write(that(spec, "heater.setpoint", Comparator::at_most, 0));
  written.conduct->kind = rehearsal::ConductKind::no_write;
  for (const auto& expectation : {counted, written}) {
    auto whole = spec;
    whole.expectations = {expectation, never};
    CHECK(judge_all(whole)[0].result == kNotJudged);
    whole.expectations[0].from = at_time(60s);
    CHECK(judge_all(whole)[0].result == kNotJudged);
  }
  const auto stopped = judge_all(spec, {}, 30s);
  for (const auto& outcome : stopped) CHECK(outcome.result == kNotJudged);
}

TEST_CASE("a write at the very instant at which an interval begins or ends is on the wrong side of it") {
  struct Row {
    const char* what;
    Duration written_at;
    Outcome::Result from, until;
  };
  // What field being cut at 20 s begins, or ends; the first write asks for 50 %, as expected.
  const Row rows[] = {
      {"before", 20s - 1ns, kNotJudged, kPassed},
      {"at the instant", 20s, kPassed, kNotJudged},
      {"behind", 20s + 1ns, kPassed, kNotJudged},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto spec = scenario(30s);
    toggle_field(spec, {20s});
    Expectation expectation;
    expectation.kind = Kind::conduct;
    expectation.conduct = first_write(that(spec, "heater.setpoint", Comparator::near, 0.5, 0.001));
    for (const auto& anchor : {when({field_is_cut(spec)}), on(spec, "cut field")}) {
      auto begins = expectation;
      begins.from = anchor;
      auto ends = expectation;
      ends.until = anchor;
      spec.expectations = {begins, ends};
      const auto outcomes = judge_all(spec, {{row.written_at, 500}});
      CHECK(outcomes[0].result == row.from);
      CHECK(outcomes[1].result == row.until);
    }
  }
}

TEST_CASE("what a master does is judged beyond its own time, which includes its last instant") {
  for (const Duration written_at : {Duration{15s}, Duration{15s + 1ns}}) {
    auto spec = scenario(30s);
    Expectation expectation;
    expectation.kind = Kind::conduct;
    expectation.from = at_time(10s);
    expectation.within = 5s;
    expectation.conduct = first_write(that(spec, "heater.setpoint", Comparator::near, 0.5, 0.001));
    spec.expectations = {expectation};
    const auto outcome = judged(spec, {{written_at, 500}});
    CHECK(outcome.result == (written_at == 15s ? kPassed : kNotJudged));
    check_says(outcome, "within 5 s from 10 s");
  }
}

TEST_CASE("a circle of what waits for each other is not found, or seen where there is none") {
  auto spec = story();
  const auto waits = [&](const char* name, std::optional<rehearsal::Anchor> from) {
    auto expectation = clear_of_20_s(spec, std::move(from));
    expectation.name = name;
    return expectation;
  };
  using rehearsal::Waiting;
  spec.expectations = {waits("a", {}), waits("b", met("a")), waits("c", met("b"))};
  CHECK_FALSE(rehearsal::find_circle(spec));
  CHECK(rehearsal::met_order(spec) == std::vector<std::size_t>{0, 1, 2});
  std::swap(spec.expectations[0], spec.expectations[2]);
  CHECK(rehearsal::met_order(spec) == std::vector<std::size_t>{2, 1, 0});

  // By way of an entry, and those first that entries wait for.
  spec.timeline[0].when = met("c");
  spec.expectations = {waits("a", {}), waits("b", on(spec, "cut ethernet")), waits("c", {})};
  CHECK(rehearsal::met_order(spec) == std::vector<std::size_t>{2, 0, 1});
  spec.timeline[1].when = met("b");
  CHECK(rehearsal::met_order(spec) == std::vector<std::size_t>{2, 1, 0});
  spec.timeline = story().timeline;

  // What passes before its end does not wait for that.
  auto early = waits("a", {});
  early.until = met("b");
  spec.expectations = {early, waits("b", met("a"))};
  CHECK(rehearsal::find_circle(spec)->size() == 2);
  spec.expectations[0].holds_for = 5s;
  CHECK_FALSE(rehearsal::find_circle(spec));
  spec.expectations[0].holds_for.reset();
  spec.expectations[0].kind = Kind::within;
  CHECK_FALSE(rehearsal::find_circle(spec));

  spec.expectations = {waits("a", met("a"))};
  CHECK(rehearsal::find_circle(spec) == std::vector<Waiting>{{false, 0}});
  spec.expectations = {waits("a", met("c")), waits("b", met("a")), waits("c", met("b"))};
  CHECK(rehearsal::find_circle(spec)->size() == 3);
  spec.expectations = {waits("a", entry(0))};
  CHECK_FALSE(rehearsal::find_circle(spec));
  spec.timeline[0].when = met("a");
  CHECK(rehearsal::find_circle(spec)->size() == 2);
  spec.expectations[0].from = on(spec, "cut ethernet");
  CHECK(rehearsal::find_circle(spec)->size() == 2);
  add_entry(spec, 30s, "cut ethernet");  // now it need not be that one
  CHECK_FALSE(rehearsal::find_circle(spec));
  // An entry with conditions waits for the one before it.
  spec.timeline[0].when = entry(1);
  CHECK_FALSE(rehearsal::find_circle(spec));
  spec.timeline[1].when = when({field_is_cut(spec)});
  CHECK(rehearsal::find_circle(spec)->size() == 2);
  spec.timeline[1].from_start = true;
  CHECK_FALSE(rehearsal::find_circle(spec));
}
