#include <string>

#include "tests/sim/rehearsal/story.hpp"

using namespace emberline;
using namespace emberline::testing;

namespace {

/// Field is never to be cut, but is.
rehearsal::Around around_failure(Duration cut_at, Duration ends) {
  auto spec = scenario(ends);
  toggle_field(spec, {cut_at});
  Expectation expectation;
  expectation.kind = Kind::never;
  expectation.conditions = {field_is_cut(spec), that(spec, "heater.setpoint", Comparator::at_least, 0)};
  spec.expectations = {expectation};
  return judged(spec).around;
}

}  // namespace

TEST_CASE("the values around a failure are missing, wrong, too close together or too many") {
  struct Row {
    Duration cut_at, ends;
    std::size_t before, after;
  };
  const Row rows[] = {
      {10s, 20s, 8, 4}, {10s, 10s + 500ms, 8, 3},                     // 200 ms, 400 ms and the end
      {10s, 10s, 8, 0}, {0s, 20s, 0, 4},          {50ms, 20s, 3, 4},  // every 20 ms: all there is
  };
  for (const auto& row : rows) {
    CAPTURE(to_seconds(row.cut_at));
    CAPTURE(to_seconds(row.ends));
    const auto around = around_failure(row.cut_at, row.ends);
    CHECK(around.signals == std::vector<std::string>{"field.state", "heater.setpoint"});
    REQUIRE(around.rows.size() >= row.before + 1);
    CHECK(around.rows.size() == row.before + 1 + row.after);
    for (std::size_t i = 0; i < around.rows.size(); ++i) {
      CAPTURE(i);
      CHECK((around.rows[i].at < SimTime{row.cut_at}) == (i < row.before));
      CHECK((around.rows[i].at == SimTime{row.cut_at}) == (i == row.before));
      CHECK(around.rows[i].values == std::vector<std::string>{i < row.before ? "normal" : "cut", "0 %"});
      if (row.cut_at == 10s && i > 0 && i != row.before && around.rows[i].at < SimTime{row.ends})
        CHECK(around.rows[i].at - around.rows[i - 1].at >= 200ms);
    }
  }
}

TEST_CASE("what passes, or could not be judged, is shown with values around it") {
  auto spec = scenario(20s);
  Expectation passes;
  passes.kind = Kind::never;
  passes.conditions = {field_is_cut(spec)};
  Expectation not_judged = passes;
  not_judged.from = on(spec, "cut field");
  spec.expectations = {passes, not_judged};
  for (const auto& outcome : judge_all(spec)) CHECK(outcome.around.rows.empty());
}

TEST_CASE("the written point, and what a sequence waits for, are not shown around a failure") {
  auto spec = scenario(20s);
  Expectation write;
  write.kind = Kind::conduct;
  write.conduct = first_write(that(spec, "heater.setpoint", Comparator::near, 0.5, 0.001));
  Expectation sequence;
  sequence.kind = Kind::sequence;
  sequence.sequence.resize(2);
  sequence.sequence[0].write = write.conduct;
  sequence.sequence[1].conditions = {field_is_cut(spec)};
  spec.expectations = {write, sequence};
  const auto outcomes = judge_all(spec, {{10s, 400}});
  CHECK(outcomes[0].around.signals == std::vector<std::string>{"heater.setpoint"});
  CHECK(outcomes[0].around.rows.size() == 13);
  CHECK(outcomes[0].around.rows.front().values == std::vector<std::string>{"0 %"});
  CHECK(outcomes[0].around.rows.back().values == std::vector<std::string>{"40 %"});
  CHECK(outcomes[1].around.signals == std::vector<std::string>{"heater.setpoint", "field.state"});
}
