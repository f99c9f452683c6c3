#include "sim/polling/schedule.hpp"

#include <chrono>

#include <doctest/doctest.h>

#include "sim/base/random.hpp"
#include "sim/polling/phases.hpp"

using namespace emberline;
using namespace emberline::polling;
using namespace std::chrono_literals;

namespace {

constexpr std::size_t kMost = 200'000;

/// Request 2 ms, answer 6 ms, silence 2 ms: 10 ms in all, or as long as `whole`.
Turn turn(Duration every, Duration phase, std::size_t slave, Duration whole = 10ms) {
  Turn made;
  made.every = every;
  made.phase = phase;
  made.exchange = {2ms, whole - 4ms, whole};
  made.slave = slave;
  made.feeds = slave;
  return made;
}

MasterTiming patient(Duration timeout, int retries = 0, Duration retry_after = {}) {
  MasterTiming master;
  master.timeout = timeout;
  master.retries = retries;
  master.retry_after = retry_after;
  return master;
}

std::vector<Duration> starts(const std::vector<Turn>& turns, const MasterTiming& master,
                             const std::optional<Silence>& silence, std::size_t of, std::size_t how_many) {
  std::vector<Duration> found;
  (void)walk(turns, master, silence, kMost, [&](const Made& made) {
    if (made.turn == of && found.size() < how_many) found.push_back(made.start);
  });
  return found;
}

}  // namespace

TEST_CASE("what falls due while a request is under way waits until the line is free") {
  const std::vector<Turn> turns{turn(100ms, 0ms, 0), turn(100ms, 4ms, 1)};
  CHECK(starts(turns, {}, std::nullopt, 0, 2) == std::vector<Duration>{0ms, 100ms});
  CHECK(starts(turns, {}, std::nullopt, 1, 2) == std::vector<Duration>{10ms, 110ms});
  const Course course = course_of(turns, {}, std::nullopt, kMost);
  CHECK(course.whole);
  CHECK(course.latest[1] == 6ms);
  // From taking up at 12 ms to the answer at 118 ms.
  CHECK(course.ages[1] == 106ms);
  CHECK(course.gaps[1] == 100ms);
  CHECK_FALSE(course.missed[1]);
}

TEST_CASE("a round goes in the order of the file, and a missed period counts once") {
  // 30 ms every 20 ms: it is never through. The other, due all the time, has its turn once a round.
  const std::vector<Turn> turns{turn(20ms, 0ms, 0, 30ms), turn(15ms, 0ms, 1, 10ms)};
  const auto first = starts(turns, {}, std::nullopt, 0, 3);
  const auto second = starts(turns, {}, std::nullopt, 1, 3);
  CHECK(first == std::vector<Duration>{0ms, 40ms, 80ms});
  CHECK(second == std::vector<Duration>{30ms, 70ms, 110ms});
  const Course course = course_of(turns, {}, std::nullopt, kMost);
  CHECK(course.whole);
  CHECK(course.missed[0]);
  CHECK(course.missed[1]);
}

TEST_CASE("a request to a dead slave takes all its tries, and what is due meanwhile waits") {
  MasterTiming master = patient(200ms, 2, 50ms);
  master.pause = 3ms;
  // MODBUS Messaging on TCP/IP V1.0b, 4.3 and common practice: time-outs count from when sending begins.
  CHECK(given_up_after(master) == 3 * 200ms + 2 * 50ms + 3ms);
  const std::vector<Turn> turns{turn(1s, 0ms, 0), turn(1s, 100ms, 1)};
  CHECK(starts(turns, master, Silence{0, 0}, 1, 2) == std::vector<Duration>{703ms, 1703ms});
  const Course course = course_of(turns, master, Silence{0, 0}, kMost);
  CHECK(course.gaps[1] == 1s);  // late, but every time
  // Dying meanwhile: the last one in time, the next late.
  CHECK(course_of(turns, master, Silence{0, 2}, kMost).gaps[1] == 1603ms);
  CHECK(full_cycle_of(turns, master, 0) == 703ms + 10ms);
  CHECK(load_of(turns, master, 0) == doctest::Approx(0.713));
  CHECK(load_of(turns, master, std::nullopt) == doctest::Approx(0.02));
}

TEST_CASE("a dead slave is asked no more often than poll_lost_every says") {
  MasterTiming master = patient(300ms);
  master.poll_lost_every = 2s;
  const std::vector<Turn> turns{turn(500ms, 0ms, 0), turn(500ms, 10ms, 0), turn(500ms, 20ms, 1)};
  // Asked at 0; the second request to it, at 10 ms, is left out, and so is everything before 2 s.
  CHECK(starts(turns, master, Silence{0, 0}, 0, 3) == std::vector<Duration>{0ms, 2s, 4s});
  CHECK(starts(turns, master, Silence{0, 0}, 1, 3).empty());
  CHECK(load_of(turns, master, 0) == doctest::Approx(0.3 / 2.0 + 0.02));
  CHECK(full_cycle_of(turns, master, 0) == 310ms);
  master.poll_lost_every.reset();
  CHECK(full_cycle_of(turns, master, 0) == 610ms);
  CHECK(load_of(turns, master, 0) == doctest::Approx(4 * 0.3 + 0.02));
}

TEST_CASE("reads a second count in a sliding second, one exactly a second later does not") {
  std::vector<Turn> turns{turn(500ms, 0ms, 0)};
  CHECK(course_of(turns, {}, std::nullopt, kMost).within_second[0] == 2);
  turns.push_back(turn(1s, 250ms, 0));
  CHECK(course_of(turns, {}, std::nullopt, kMost).within_second[0] == 3);
  turns.push_back(turn(1s, 600ms, 0));
  turns.back().read = false;
  CHECK(course_of(turns, {}, std::nullopt, kMost).within_second[0] == 3);
  // One that is late now and then brings the next too near.
  turns = {turn(500ms, 0ms, 0), turn(10s, 499ms, 1, 20ms)};
  CHECK(course_of(turns, {}, std::nullopt, kMost).within_second[0] == 3);
}

TEST_CASE("a schedule that hardly ever comes round is not walked to its end") {
  const std::vector<Turn> turns{turn(997ms, 0ms, 0), turn(1009ms, 0ms, 1), turn(1013ms, 0ms, 2)};
  CHECK_FALSE(course_of(turns, {}, std::nullopt, 1000).whole);
  CHECK(course_of({turn(500ms, 0ms, 0), turn(750ms, 10ms, 1)}, {}, std::nullopt, 100).whole);
}

TEST_CASE("no phases make a request wait longer than the bound, in 2,000 random schedules") {
  Random random(11);
  const Duration periods[] = {40ms, 50ms, 100ms, 150ms, 200ms, 400ms};
  int light = 0;
  int close_calls = 0;
  int dead_ones = 0;
  for (int number = 0; number < 2000; ++number) {
    CAPTURE(number);
    std::vector<Turn> turns;
    const std::size_t count = 2 + random.below(5);
    for (std::size_t i = 0; i < count; ++i) {
      const Duration every = periods[random.below(6)];
      const Duration phase = std::chrono::milliseconds{random.below(static_cast<std::uint64_t>(every / 1ms))};
      turns.push_back(turn(every, phase, random.below(3), std::chrono::milliseconds{5 + random.below(20)}));
    }
    MasterTiming master = patient(std::chrono::milliseconds{30 + random.below(60)});
    if (random.below(3) == 0) master.poll_lost_every = 300ms;
    std::optional<std::size_t> dead;
    std::optional<Silence> silence;
    if (random.below(2) == 0) {
      dead = random.below(3);
      silence = Silence{*dead, random.below(6)};
      ++dead_ones;
    }
    const auto bound = waits_in_any_phase(turns, master, dead);
    const Course course = course_of(turns, master, silence, kMost);
    REQUIRE(course.whole);
    if (load_of(turns, master, dead) < 1.0) ++light;
    for (std::size_t i = 0; i < turns.size(); ++i) {
      if (dead == turns[i].slave) continue;
      CHECK(course.latest[i] <= bound[i]);
      if (course.latest[i] * 10 >= bound[i] * 9 && bound[i] > Duration::zero()) ++close_calls;
      CHECK(course.ages[i] <= turns[i].every + bound[i] + turns[i].exchange.answer);
    }
  }
  CHECK(light > 500);
  CHECK(dead_ones > 500);
  CHECK(close_calls > 50);  // the bound is not far off
}

TEST_CASE("the longest wait is the sum of all others where a cycle is shorter than every period") {
  const std::vector<Turn> turns{turn(100ms, 0ms, 0, 10ms), turn(200ms, 0ms, 1, 20ms),
                                turn(400ms, 0ms, 2, 30ms)};
  CHECK(waits_in_any_phase(turns, {}, std::nullopt) == std::vector<Duration>{50ms, 40ms, 30ms});
  // Due together, the last waits just so long.
  CHECK(course_of(turns, {}, std::nullopt, kMost).latest[2] == 30ms);
}

TEST_CASE("phases keep requests out of each other's way where there is room") {
  for (const Spreading spreading : {Spreading::even, Spreading::close}) {
    // 40 + 20 + 10 + 10 = 80 % of the line, and no more than one of 40 ms beside the first in each 100 ms.
    std::vector<Turn> turns{turn(100ms, 0ms, 0, 40ms), turn(200ms, 0ms, 1, 40ms), turn(400ms, 0ms, 2, 40ms),
                            turn(400ms, 0ms, 3, 40ms)};
    place_phases(turns, std::vector<bool>(4, false), spreading);
    const Course course = course_of(turns, {}, std::nullopt, kMost);
    for (std::size_t i = 0; i < turns.size(); ++i) {
      CHECK(turns[i].phase >= Duration::zero());
      CHECK(turns[i].phase < turns[i].every);
      CHECK(turns[i].phase % 1ms == Duration::zero());
      if (spreading == Spreading::close) CHECK(course.latest[i] == Duration::zero());
    }
  }
  // With little to do they stand far apart.
  std::vector<Turn> turns{turn(1s, 0ms, 0), turn(1s, 0ms, 1), turn(1s, 0ms, 2), turn(1s, 0ms, 3)};
  place_phases(turns, std::vector<bool>(4, false), Spreading::even);
  for (std::size_t i = 0; i < turns.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) CHECK(std::chrono::abs(turns[i].phase - turns[j].phase) >= 240ms);
  }
}

TEST_CASE("a schedule that never comes round is followed for ever, until its clock wraps around") {
  constexpr Duration kWeek = 7 * 24h;
  const std::vector<Turn> turns{{kWeek, 0ms, {1ms, 10ms, 20ms}}, {kWeek - 1ms, 1s, {1ms, 10ms, 20ms}}};
  Duration last{};
  std::size_t requests = 0;
  const bool whole = walk(turns, {}, std::nullopt, 200'000, [&](const Made& made) {
    CHECK_MESSAGE(made.start >= last, requests);
    last = made.start;
    ++requests;
  });
  CHECK_FALSE(whole);
  CHECK(last >= kHorizon - kWeek);
  CHECK(last <= kHorizon + kWeek);
}
