#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/sim/rehearsal/conduct_stage.hpp"

using namespace emberline;
using namespace emberline::testing;
using namespace std::chrono_literals;
using rehearsal::ConductKind;
using Comparator = rehearsal::Condition::Comparator;
using Judged = rehearsal::Outcome::Result;

namespace {

constexpr auto kPassed = Judged::passed;
constexpr auto kFailed = Judged::failed;
constexpr auto kNotJudged = Judged::not_judged;

/// What is written between 10 s and 20 s, by the clock of a test.
struct Row {
  const char* what;
  ConductKind kind;
  std::vector<Deed> deeds;
  Judged result;
  const char* happened;
  Duration decided;
  bool until = false;
};

void check(const Row& row, const rehearsal::Conduct& conduct) {
  CAPTURE(row.what);
  const auto found = played(conduct, row.deeds, 10s, 20s, row.until);
  CHECK(found.result == row.result);
  CHECK(found.happened == std::string(row.happened));
  CHECK(found.at == SimTime{row.decided});
}

}  // namespace

TEST_CASE("first, last and every write: a write outside the interval counts, or the wrong one is taken") {
  using enum ConductKind;
  const Row rows[] = {
      {"the first is right",
       first_write,
       {write_of(11s, 0.5), write_of(12s, 0.9)},
       kPassed,
       "it was 50 % by plc at 11 s",
       11s},
      {"the first is wrong",
       first_write,
       {write_of(11s, 0.9), write_of(12s, 0.5)},
       kFailed,
       "it was 90 % by plc at 11 s",
       11s},
      {"one before the interval is none of it",
       first_write,
       {write_of(9s, 0.9), write_of(12s, 0.5)},
       kPassed,
       "it was 50 % by plc at 12 s",
       12s},
      {"one at its very beginning is",
       first_write,
       {write_of(10s, 0.5)},
       kPassed,
       "it was 50 % by plc at 10 s",
       10s},
      {"one at its very end is",
       first_write,
       {write_of(20s, 0.5)},
       kPassed,
       "it was 50 % by plc at 20 s",
       20s},
      {"one at until is none of it",
       first_write,
       {write_of(20s, 0.5)},
       kNotJudged,
       "nobody wrote heater.setpoint",
       20s,
       true},
      {"a refused one counts",
       first_write,
       {write_of(11s, 0.9, false), write_of(12s, 0.5)},
       kFailed,
       "it was 90 % (refused) by plc at 11 s",
       11s},
      {"a slip of the decimal point",
       first_write,
       {write_of(11s, 5.0)},
       kFailed,
       "it was 500 % by plc at 11 s, ten times what was expected: wrong by a factor of 10",
       11s},
      {"none", first_write, {}, kNotJudged, "nobody wrote heater.setpoint", 20s},
      {"the last is right",
       last_write,
       {write_of(11s, 0.9), write_of(12s, 0.5)},
       kPassed,
       "it was 50 % by plc at 12 s",
       20s},
      {"the last is wrong",
       last_write,
       {write_of(11s, 0.5), write_of(12s, 0.05)},
       kFailed,
       "it was 5 % by plc at 12 s, a tenth of what was expected: wrong by a factor of 10",
       20s},
      {"no last", last_write, {write_of(21s, 0.5)}, kNotJudged, "nobody wrote heater.setpoint", 20s},
      {"every one is right",
       every_write,
       {write_of(11s, 0.5), write_of(12s, 0.5)},
       kPassed,
       "all 2 were, the last 50 % by plc at 12 s",
       20s},
      {"the only one is right",
       every_write,
       {write_of(11s, 0.5)},
       kPassed,
       "it was 50 % by plc at 11 s",
       20s},
      {"one of them is wrong",
       every_write,
       {write_of(11s, 0.5), write_of(12s, 0.6), write_of(13s, 0.5)},
       kFailed,
       "the 2nd was 60 % by plc at 12 s",
       12s},
      {"every one of none", every_write, {}, kNotJudged, "nobody wrote heater.setpoint", 20s},
      {"none is none", no_write, {write_of(9s, 0.5), write_of(21s, 0.5)}, kPassed, "there was none", 20s},
      {"none is one", no_write, {write_of(11s, 0.5)}, kFailed, "it was set to 50 % by plc at 11 s", 11s},
      {"a refused one is one",
       no_write,
       {write_of(11s, 0.5, false)},
       kFailed,
       "it was set to 50 % (refused) by plc at 11 s",
       11s},
  };
  for (const auto& row : rows) {
    auto conduct = about_setpoint(row.kind);
    conduct.condition = compared(Comparator::equals, 0.5, 0, Dimension::ratio);
    check(row, conduct);
  }
}

TEST_CASE("a write of another point, unit or stand-in is taken for one that was asked about") {
  auto conduct = about_setpoint(ConductKind::no_write);
  auto reset = write_of(11s, 1);
  reset.point = registers::Point::reset;
  CHECK(played(conduct, {reset}, 10s, 20s).result == kPassed);
  conduct.by = "standby";
  CHECK(played(conduct, {write_of(11s, 1)}, 10s, 20s).result == kPassed);
  CHECK(played(conduct, {write_of(11s, 1, true, "standby")}, 10s, 20s).result == kFailed);
  CHECK(played(conduct, {write_of(11s, 1, true, "standby:49160")}, 10s, 20s).result == kFailed);
  // A real master has another name than the stand-in it takes the place of.
  CHECK(played(conduct, {write_of(11s, 1)}, 10s, 20s, false, heated_bench(), true).result == kFailed);
  CHECK(played(conduct, {}, 10s, 20s).expected == "no write of heater.setpoint by standby");
  CHECK(played(conduct, {}, 10s, 20s, false, heated_bench(), true).expected == "no write of heater.setpoint");

  const auto bench = heated_bench();
  const unit::WriteSeen elsewhere{SimTime{11s}, "other", registers::Point::setpoint, 0.5, true,
                                  "plc",        "field"};
  conduct.by.clear();
  CHECK_FALSE(rehearsal::matches_write(conduct, bench, elsewhere));
}

TEST_CASE("a step of a sequence takes a write for the one it waits for") {
  const auto bench = heated_bench();
  auto conduct = about_setpoint(ConductKind::first_write);
  unit::WriteSeen write{SimTime{11s}, "heater", registers::Point::setpoint, 0.5, true, "plc", "field"};
  CHECK(rehearsal::matches_write(conduct, bench, write));
  conduct.condition = compared(Comparator::at_most, 0.4);
  CHECK_FALSE(rehearsal::matches_write(conduct, bench, write));
  write.asked = 0.4;
  CHECK(rehearsal::matches_write(conduct, bench, write));
  conduct.by = "standby";
  CHECK_FALSE(rehearsal::matches_write(conduct, bench, write));
  CHECK(rehearsal::matches_write(conduct, bench, write, true));
}

TEST_CASE("writes are counted wrongly, or a count is decided before it is certain") {
  struct Count {
    Comparator comparator;
    double a, b;
    int writes;
    Judged result;
    const char* happened;
    Duration decided;
  };
  const Count rows[] = {
      {Comparator::at_most, 3, 0, 3, kPassed, "there were 3, the last 50 % by plc at 13 s", 20s},
      {Comparator::at_most, 3, 0, 4, kFailed, "the 4th was 50 % by plc at 14 s", 14s},
      {Comparator::at_most, 0, 0, 0, kPassed, "there was none", 20s},
      {Comparator::below, 2, 0, 2, kFailed, "the 2nd was 50 % by plc at 12 s", 12s},
      {Comparator::at_least, 2, 0, 3, kPassed, "the 2nd was 50 % by plc at 12 s", 12s},
      {Comparator::at_least, 2, 0, 1, kFailed, "there was 1, the last 50 % by plc at 11 s", 20s},
      {Comparator::above, 2, 0, 2, kFailed, "there were 2, the last 50 % by plc at 12 s", 20s},
      {Comparator::above, 2, 0, 3, kPassed, "the 3rd was 50 % by plc at 13 s", 13s},
      {Comparator::equals, 2, 0, 2, kPassed, "there were 2, the last 50 % by plc at 12 s", 20s},
      {Comparator::equals, 2, 0, 3, kFailed, "the 3rd was 50 % by plc at 13 s", 13s},
      {Comparator::equals, 2, 0, 0, kFailed, "there was none", 20s},
      {Comparator::not_equal, 2, 0, 2, kFailed, "there were 2, the last 50 % by plc at 12 s", 20s},
      {Comparator::not_equal, 2, 0, 4, kPassed, "the 3rd was 50 % by plc at 13 s", 13s},
      {Comparator::between, 1, 2, 2, kPassed, "there were 2, the last 50 % by plc at 12 s", 20s},
      {Comparator::between, 1, 2, 3, kFailed, "the 3rd was 50 % by plc at 13 s", 13s},
      {Comparator::between, 1, 2, 0, kFailed, "there was none", 20s},
      {Comparator::near, 2, 1, 1, kPassed, "there was 1, the last 50 % by plc at 11 s", 20s},
      {Comparator::near, 2, 1, 4, kFailed, "the 4th was 50 % by plc at 14 s", 14s},
  };
  for (const auto& row : rows) {
    auto conduct = about_setpoint(ConductKind::write_count);
    conduct.condition = compared(row.comparator, row.a, row.b);
    CAPTURE(rehearsal::describe_expected(*conduct.condition));
    CAPTURE(row.writes);
    std::vector<Deed> deeds{write_of(9s, 0.5)};
    for (int i = 1; i <= row.writes; ++i) deeds.push_back(write_of(10s + i * 1s, 0.5));
    const auto found = played(conduct, deeds, 10s, 20s);
    CHECK(found.result == row.result);
    CHECK(found.happened == std::string(row.happened));
    CHECK(found.at == SimTime{row.decided});
  }
}

TEST_CASE("a window of a write rate takes in a write too many or one too few") {
  struct Rate {
    const char* what;
    Comparator comparator;
    double a, b;
    std::vector<Duration> writes;
    Duration end;
    Judged result;
    const char* happened;
    Duration decided;
    bool until = false;
  };
  const Rate rows[] = {
      {"two just one window apart",
       Comparator::at_most,
       1,
       0,
       {10s, 11s, 12s},
       15s,
       kPassed,
       "there were 3 in all",
       15s},
      {"two a little nearer",
       Comparator::at_most,
       1,
       0,
       {10s, 11s, 12s - 1ns},
       15s,
       kFailed,
       "the 2nd within 1 s was 50 % by plc at 12 s",
       12s - 1ns},
      {"two at one instant",
       Comparator::at_most,
       1,
       0,
       {11s, 11s},
       15s,
       kFailed,
       "the 2nd within 1 s was 50 % by plc at 11 s",
       11s},
      {"any at all",
       Comparator::at_most,
       0,
       0,
       {11s},
       15s,
       kFailed,
       "the 1st within 1 s was 50 % by plc at 11 s",
       11s},
      {"none is not too many", Comparator::at_most, 1, 0, {}, 15s, kPassed, "there was none in all", 15s},
      {"an interval shorter than the window",
       Comparator::at_most,
       1,
       0,
       {10s, 10s + 400ms},
       10s + 500ms,
       kFailed,
       "the 2nd within 1 s was 50 % by plc at 10.4 s",
       10s + 400ms},
      {"one each second",
       Comparator::at_least,
       1,
       0,
       {10s, 11s, 12s, 13s},
       13s + 500ms,
       kPassed,
       "there were 4 in all",
       13s + 500ms},
      {"one each second, from later on",
       Comparator::at_least,
       1,
       0,
       {10s + 900ms, 11s + 900ms, 12s + 900ms},
       13s,
       kPassed,
       "there were 3 in all",
       13s},
      {"one a little late",
       Comparator::at_least,
       1,
       0,
       {10s, 11s + 1ns, 12s},
       13s,
       kFailed,
       "there was none in the 1 s from 10 s on",
       11s},
      {"none in the first second, whose end is not its own",
       Comparator::at_least,
       1,
       0,
       {11s},
       12s,
       kFailed,
       "there was none in the 1 s from 10 s on",
       11s - 1ns},
      {"none in the last whole second",
       Comparator::at_least,
       1,
       0,
       {10s, 11s},
       12s,
       kFailed,
       "there was none in the 1 s from 11 s on",
       12s},
      {"no whole second after the last",
       Comparator::at_least,
       1,
       0,
       {10s, 11s},
       12s - 1ns,
       kPassed,
       "there were 2 in all",
       12s - 1ns},
      {"the last second ends with until",
       Comparator::at_least,
       1,
       0,
       {10s, 11s},
       12s,
       kPassed,
       "there were 2 in all",
       12s,
       true},
      {"two a second",
       Comparator::at_least,
       2,
       0,
       {10s, 10s + 500ms, 11s, 11s + 500ms},
       12s - 1ns,
       kPassed,
       "there were 4 in all",
       12s - 1ns},
      {"one missing of two a second",
       Comparator::at_least,
       2,
       0,
       {10s, 10s + 500ms, 11s + 500ms},
       12s,
       kFailed,
       "there was 1 in the 1 s from 10 s on",
       11s},
      {"an interval too short to tell",
       Comparator::at_least,
       1,
       0,
       {10s},
       10s + 900ms,
       kNotJudged,
       "the interval was shorter than a window of 1 s",
       10s + 900ms},
      {"between, too few",
       Comparator::between,
       1,
       2,
       {10s, 10s + 500ms},
       12s,
       kFailed,
       "there was none in the 1 s from 10.5 s on",
       11s + 500ms},
      {"between, too many",
       Comparator::between,
       1,
       2,
       {10s, 10s + 400ms, 10s + 800ms},
       11s,
       kFailed,
       "the 3rd within 1 s was 50 % by plc at 10.8 s",
       10s + 800ms},
      {"at least none is always so",
       Comparator::at_least,
       0,
       0,
       {},
       12s,
       kPassed,
       "there was none in all",
       12s},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto conduct = about_setpoint(ConductKind::write_rate);
    conduct.condition = compared(row.comparator, row.a, row.b);
    conduct.window = 1s;
    std::vector<Deed> deeds;
    for (const auto at : row.writes) deeds.push_back(write_of(at, 0.5));
    const auto found = played(conduct, deeds, 10s, row.end, row.until);
    CHECK(found.result == row.result);
    CHECK(found.happened == std::string(row.happened));
    CHECK(found.at == SimTime{row.decided});
  }
}

TEST_CASE("a master that writes with one period is told another rate than it has") {
  // A half-open window so long as n periods holds n writes, wherever it lies.
  for (const Duration begins : {Duration{10s}, Duration{10s + 1ns}, Duration{9s + 700ms}}) {
    for (int n = 1; n <= 5; ++n) {
      std::vector<Deed> deeds;
      for (Duration at = 8s; at <= 40s; at += 250ms) deeds.push_back(write_of(at, 0.5));
      auto conduct = about_setpoint(ConductKind::write_rate);
      conduct.window = n * 250ms;
      const auto result = [&](Comparator comparator, double bound) {
        conduct.condition = compared(comparator, bound);
        return played(conduct, deeds, begins, 40s).result;
      };
      CAPTURE(n);
      CHECK(result(Comparator::at_most, n) == kPassed);
      CHECK(result(Comparator::at_most, n - 1) == kFailed);
      CHECK(result(Comparator::at_least, n) == kPassed);
      CHECK(result(Comparator::at_least, n + 1) == kFailed);
    }
  }
}

TEST_CASE("what was expected of writes is not said in a sentence") {
  const auto expected = [](ConductKind kind, const rehearsal::Condition& condition, Duration window = {}) {
    auto conduct = about_setpoint(kind);
    conduct.by = "plc";
    conduct.condition = condition;
    conduct.window = window;
    return played(conduct, {write_of(10s, 0.5)}, 10s, 100s).expected;
  };
  using enum ConductKind;
  const auto half = compared(Comparator::at_most, 0.5, 0, Dimension::ratio);
  CHECK(expected(first_write, half) == "the first write of heater.setpoint by plc to be at most 50 %");
  CHECK(expected(last_write, half) == "the last write of heater.setpoint by plc to be at most 50 %");
  CHECK(expected(every_write, half) == "every write of heater.setpoint by plc to be at most 50 %");
  CHECK(expected(no_write, half) == "no write of heater.setpoint by plc");
  CHECK(expected(write_count, compared(Comparator::at_most, 1)) ==
        "at most 1 write of heater.setpoint by plc");
  CHECK(expected(write_count, compared(Comparator::between, 2, 3)) ==
        "between 2 and 3 writes of heater.setpoint by plc");
  CHECK(expected(write_rate, compared(Comparator::at_most, 10), 60s) ==
        "at most 10 writes of heater.setpoint by plc in any 1 min");
}
