#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/sim/rehearsal/conduct_stage.hpp"

using namespace emberline;
using namespace emberline::testing;
using namespace std::chrono_literals;
using rehearsal::Conduct;
using rehearsal::ConductKind;
using Comparator = rehearsal::Condition::Comparator;
using Judged = rehearsal::Outcome::Result;

namespace {

constexpr auto kPassed = Judged::passed;
constexpr auto kFailed = Judged::failed;
constexpr auto kNotJudged = rehearsal::Outcome::Result::not_judged;

Conduct about_heater(ConductKind kind, rehearsal::Condition condition) {
  Conduct conduct;
  conduct.kind = kind;
  conduct.name = "heater";
  conduct.of = Conduct::Of::unit;
  conduct.condition = std::move(condition);
  return conduct;
}

Conduct silence(Comparator comparator, double a, double b = 0.0) {
  return about_heater(ConductKind::silence, compared(comparator, a, b, Dimension::time));
}

Deed any_request(Duration at) { return read_of(at, 1, 1); }

Deed on(Deed deed, std::size_t line, std::uint8_t id) {
  deed.line = line;
  deed.id = id;
  return deed;
}

std::vector<Deed> requests(const std::vector<Duration>& times) {
  std::vector<Deed> deeds;
  for (const auto at : times) deeds.push_back(any_request(at));
  return deeds;
}

}  // namespace

TEST_CASE("a silence is measured from or to the wrong instant") {
  struct Row {
    const char* what;
    Comparator comparator;
    double a, b;
    std::vector<Duration> at;
    Judged result;
    const char* happened;
    Duration decided;
  };
  const Row rows[] = {
      {"never longer",
       Comparator::at_most,
       3,
       0,
       {11s, 14s, 16s, 18s},
       kPassed,
       "the longest was 3 s, from 11 s to 14 s",
       20s},
      {"a little longer",
       Comparator::at_most,
       3,
       0,
       {11s, 14s + 1ms, 16s, 18s},
       kFailed,
       "it was silent from 11 s on, longer than 3 s",
       14s},
      {"the beginning is an end of it",
       Comparator::at_most,
       3,
       0,
       {9s, 14s, 17s},
       kFailed,
       "it was silent from 10 s on, longer than 3 s",
       13s},
      {"the end is an end of it",
       Comparator::at_most,
       3,
       0,
       {11s, 13s, 16s},
       kFailed,
       "it was silent from 16 s on, longer than 3 s",
       19s},
      {"nothing is heard",
       Comparator::at_most,
       3,
       0,
       {},
       kFailed,
       "it was silent from 10 s on, longer than 3 s",
       13s},
      {"nothing is heard for so long already",
       Comparator::below,
       3,
       0,
       {11s},
       kFailed,
       "it was silent from 11 s on, for 3 s and longer",
       14s},
      {"longer than near",
       Comparator::near,
       2,
       1,
       {11s, 13s},
       kFailed,
       "it was silent from 13 s on, longer than 3 s",
       16s},
      {"so long, at the end",
       Comparator::at_most,
       3,
       0,
       {12s, 14s, 17s},
       kPassed,
       "the longest was 3 s, from 14 s to 17 s",
       20s},
      {"silent long enough",
       Comparator::at_least,
       3,
       0,
       {11s, 15s},
       kPassed,
       "it was silent from 11 s to 14 s, 3 s",
       14s},
      {"longer than that",
       Comparator::above,
       3,
       0,
       {11s, 14s, 18s},
       kPassed,
       "it was silent from 14 s to 17 s, 3 s",
       17s + 1ns},
      {"not silent enough",
       Comparator::at_least,
       3,
       0,
       {11s, 13s, 15s, 17s, 19s},
       kFailed,
       "it was silent from 11 s to 13 s, 2 s",
       20s},
      {"between",
       Comparator::between,
       3,
       5,
       {11s, 15s, 17s, 19s},
       kPassed,
       "the longest was 4 s, from 11 s to 15 s",
       20s},
      {"longer than between",
       Comparator::between,
       1,
       3,
       {11s, 15s, 17s, 19s},
       kFailed,
       "it was silent from 11 s on, longer than 3 s",
       14s},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    const auto found = played(silence(row.comparator, row.a, row.b), requests(row.at), 10s, 20s);
    CHECK(found.result == row.result);
    CHECK(found.happened == std::string(row.happened));
    CHECK(found.at == SimTime{row.decided});
  }
  CHECK(played(silence(Comparator::at_most, 3), {}, 10s, 20s).expected ==
        "silence towards heater of at most 3 s");
}

TEST_CASE("who stops a run early hides a silence that has been too long already") {
  // The judge of the rehearsal looks when it is asked to, not only when something is heard.
  const auto conduct = silence(Comparator::at_most, 3600);
  const auto bench = heated_bench();
  rehearsal::ConductJudge judge(conduct, bench, false);
  judge.begin(SimTime{10s});
  REQUIRE(judge.next().has_value());
  const SimTime next = *judge.next();
  CHECK(next > SimTime{10s + 1h});
  CHECK(next < SimTime{10s + 1h + 1ms});
  CHECK_FALSE(judge.look(SimTime{10s + 1h}).has_value());
  const auto found = judge.look(next);
  REQUIRE(found.has_value());
  CHECK(found->result == kFailed);
  CHECK(found->at == SimTime{10s + 1h});
}

TEST_CASE("somebody else's request ends the silence of a slave, or its own does not") {
  // Ids: the heater has 1 on both lines, the io-block 20 on ethernet (Modbus TCP: 0 and 255 reach nobody
  // where there are two slaves; Messaging on TCP/IP V1.0b, 4.4.1).
  const auto bench = wired_bench();
  auto unanswered = any_request(15s);
  unanswered.answer.clear();
  auto busy = request_of(15s, {3, 0, 1, 0, 1}, {0x83, 6});
  auto broadcast = on(request_of(15s, {6, 0, 0, 0, 1}, {}), 0, 0);
  struct Row {
    const char* what;
    Deed deed;
    bool heater, block, field, ethernet;
  };
  const Row rows[] = {
      {"the heater over field", on(any_request(15s), 0, 1), true, false, true, false},
      {"the heater over ethernet", on(any_request(15s), 1, 1), true, false, false, true},
      {"the io-block", on(any_request(15s), 1, 20), false, true, false, true},
      {"an id that is not on this line", on(any_request(15s), 0, 20), false, false, true, false},
      {"nobody", on(any_request(15s), 0, 9), false, false, true, false},
      {"everybody", broadcast, true, false, true, false},
      {"0 on TCP, of two slaves", on(any_request(15s), 1, 0), false, false, false, true},
      {"one that is not answered", unanswered, true, false, true, false},
      {"one that is refused as busy", busy, true, false, true, false},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    auto conduct = silence(Comparator::at_most, 6);
    const auto heard = [&](Conduct::Of of, std::size_t index) {
      conduct.of = of;
      conduct.index = index;
      return played(conduct, {row.deed}, 10s, 20s, false, bench).result == kPassed;
    };
    CHECK(heard(Conduct::Of::unit, 0) == row.heater);
    CHECK(heard(Conduct::Of::io_block, 0) == row.block);
    CHECK(heard(Conduct::Of::line, 0) == row.field);
    CHECK(heard(Conduct::Of::line, 1) == row.ethernet);
  }
  // The only slave of a TCP line is reached by 0 and 255, too.
  for (const auto id : {std::uint8_t{0}, std::uint8_t{255}}) {
    const auto found = played(silence(Comparator::at_most, 6), {on(any_request(15s), 1, id)}, 10s, 20s);
    CHECK(found.result == kPassed);
  }
}

TEST_CASE("a dead master hides behind another that goes on polling") {
  auto conduct = silence(Comparator::at_most, 6);
  conduct.by = "plc";
  CHECK(played(conduct, {read_by(15s, 1, "scada")}, 10s, 20s).result == kFailed);
  CHECK(played(conduct, {read_by(15s, 1, "plc")}, 10s, 20s).result == kPassed);
  CHECK(played(conduct, {}, 10s, 20s).expected == "silence towards heater by plc of at most 6 s");
  CHECK(played(conduct, {read_by(15s, 1, "192.0.2.7:49160")}, 10s, 20s, false, heated_bench(), true).result ==
        kPassed);
}

TEST_CASE("one of several masters is judged where nobody can tell them apart") {
  auto conduct = silence(Comparator::at_most, 6);
  conduct.by = "plc";
  conduct.one_of_several = true;
  const auto found =
      played(conduct, {read_by(15s, 1, "192.0.2.7:49160")}, 10s, 20s, false, heated_bench(), true);
  CHECK(found.result == kNotJudged);
  CHECK(found.happened == "masters on real lines cannot be told apart (by: plc)");
  CHECK(played(conduct, {read_by(15s, 1, "plc")}, 10s, 20s).result == kPassed);
  conduct.by.clear();
  CHECK(played(conduct, {read_by(15s, 1, "192.0.2.7:49160")}, 10s, 20s, false, heated_bench(), true).result ==
        kPassed);
}

TEST_CASE("retries are counted that are none, or not at all") {
  const auto retry = [](Duration at, std::uint8_t id = 1) {
    auto deed = on(any_request(at), 0, id);
    deed.again = true;
    return deed;
  };
  const auto at_most = [](double count) {
    return about_heater(ConductKind::retries, compared(Comparator::at_most, count));
  };
  CHECK(played(at_most(0), {any_request(11s), any_request(12s)}, 10s, 20s).happened == "there was none");
  const auto one = played(at_most(1), {any_request(11s), retry(12s)}, 10s, 20s);
  CHECK(one.result == kPassed);
  CHECK(one.happened == "there was 1, the last by plc at 12 s");
  const auto two = played(at_most(1), {retry(10s), retry(12s)}, 10s, 20s);
  CHECK(two.result == kFailed);
  CHECK(two.expected == "at most 1 retry of a request to heater");
  CHECK(two.happened == "the 2nd was sent by plc at 12 s");
  CHECK(two.at == SimTime{12s});
  CHECK(played(at_most(0), {retry(12s, 2)}, 10s, 20s).result == kPassed);
}

TEST_CASE("exceptions that a slave answers with are not told apart, or not counted") {
  // Codes and names: MODBUS Application Protocol V1.1b3, section 7.
  const auto refused = [](Duration at, std::uint8_t code) {
    return request_of(at, {3, 0, 99, 0, 1}, {0x83, code});
  };
  const std::vector<Deed> met{refused(11s, 2), any_request(12s), refused(13s, 6), refused(14s, 2)};
  const auto bits = [](std::initializer_list<unsigned> codes) {
    std::uint32_t sum = 0;
    for (const auto code : codes) sum |= 1u << code;
    return static_cast<double>(sum);
  };
  struct Row {
    const char* what;
    Comparator comparator;
    double a;
    Judged result;
    const char* expected;
    const char* happened;
    Duration decided;
  };
  const Row rows[] = {
      {"none at all", Comparator::equals, 0, kFailed, "no exception from heater",
       "there came exception 02 (illegal data address) once, at 11 s", 11s},
      {"three are not too many", Comparator::at_most, 3, kPassed, "at most 3 exceptions from heater",
       "there came exception 02 (illegal data address) 2 times, the first at 11 s, and exception 06 (server "
       "device busy) once, at 13 s",
       20s},
      {"but more than two", Comparator::at_most, 2, kFailed, "at most 2 exceptions from heater",
       "there came exception 02 (illegal data address) 2 times, the first at 11 s, and exception 06 (server "
       "device busy) once, at 13 s",
       14s},
      {"an excluded one", Comparator::exclude, bits({6}), kFailed,
       "no exception 06 (server device busy) from heater",
       "there came exception 02 (illegal data address) once, at 11 s, and exception 06 (server device busy) "
       "once, at 13 s",
       13s},
      {"another than the excluded ones", Comparator::exclude, bits({1, 3}), kPassed,
       "no exception 01 (illegal function) or exception 03 (illegal data value) from heater",
       "there came exception 02 (illegal data address) 2 times, the first at 11 s, and exception 06 (server "
       "device busy) once, at 13 s",
       20s},
      {"all that are included", Comparator::include, bits({2, 6}), kPassed,
       "exception 02 (illegal data address) and exception 06 (server device busy) from heater",
       "there came exception 02 (illegal data address) once, at 11 s, and exception 06 (server device busy) "
       "once, at 13 s",
       13s},
      {"not all that are included", Comparator::include, bits({2, 3}), kFailed,
       "exception 02 (illegal data address) and exception 03 (illegal data value) from heater",
       "there came exception 02 (illegal data address) 2 times, the first at 11 s, and exception 06 (server "
       "device busy) once, at 13 s",
       20s},
  };
  for (const auto& row : rows) {
    CAPTURE(row.what);
    const auto found =
        played(about_heater(ConductKind::exceptions, compared(row.comparator, row.a)), met, 10s, 20s);
    CHECK(found.result == row.result);
    CHECK(found.expected == std::string(row.expected));
    CHECK(found.happened == std::string(row.happened));
    CHECK(found.at == SimTime{row.decided});
  }
  const auto none = about_heater(ConductKind::exceptions, compared(Comparator::equals, 0));
  CHECK(played(none, {any_request(12s)}, 10s, 20s).result == kPassed);
  CHECK(played(none, {on(refused(12s, 2), 0, 2)}, 10s, 20s).result == kPassed);
  CHECK(played(about_heater(ConductKind::exceptions, compared(Comparator::include, bits({2}))), {}, 10s, 20s)
            .happened == "there was none");
}
