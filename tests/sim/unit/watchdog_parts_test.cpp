// What the state machine of the watchdog tells of itself between the events, which registers and journal show
// only in part. The rules are this program's own; no published source sets them.
#include <doctest/doctest.h>

#include "sim/unit/watchdog.hpp"

using namespace emberline;
using namespace emberline::unit;

namespace {

constexpr Duration kTimeout = std::chrono::seconds{2};

SimTime at_s(int seconds) { return SimTime{} + std::chrono::seconds{seconds}; }

/// Latched by a loss at 2 s; two frames, at 10 s and at 11 s, then completed step (1).
Watchdog after_step_one() {
  Watchdog watchdog({.from = ArmedFrom::first_request, .restored_after = 2},
                    {.timeout = kTimeout, .policy = registers::Policy::latch_to_inhibit});
  watchdog.start(at_s(0));
  watchdog.feed(at_s(0));
  watchdog.expire();
  watchdog.feed(at_s(10));
  watchdog.feed(at_s(11));
  REQUIRE(watchdog.latched());
  REQUIRE(watchdog.step_one());
  REQUIRE(watchdog.restored() == 2);
  return watchdog;
}

}  // namespace

TEST_CASE("frames from before a second loss count towards step (1) after it") {
  Watchdog watchdog = after_step_one();
  REQUIRE(watchdog.due() == at_s(13));
  watchdog.expire();
  CHECK(watchdog.restored() == 0);

  // A longer timeout ends the loss, and makes the next frame a close one: it is the first, not the third.
  REQUIRE_FALSE(watchdog.set({.timeout = 10 * kTimeout, .policy = watchdog.settings().policy}, at_s(14)));
  REQUIRE_FALSE(watchdog.lost());
  CHECK_FALSE(watchdog.feed(at_s(15)).step_one);
  CHECK(watchdog.restored() == 1);
  CHECK(watchdog.feed(at_s(16)).step_one);
}

TEST_CASE("after a reset, step (1) still stands as done though nothing is latched") {
  Watchdog watchdog = after_step_one();
  watchdog.reset();
  REQUIRE_FALSE(watchdog.latched());
  CHECK_FALSE(watchdog.step_one());
}

TEST_CASE("after a reset, the frames of the latch that is gone are still counted") {
  Watchdog watchdog = after_step_one();
  watchdog.reset();
  REQUIRE_FALSE(watchdog.latched());
  CHECK(watchdog.restored() == 0);
}

TEST_CASE("a watchdog without power says that it is armed, or lets a gap grow") {
  Watchdog watchdog({.from = ArmedFrom::first_request}, {.timeout = kTimeout});
  watchdog.start(at_s(0));
  watchdog.feed(at_s(1));
  REQUIRE(watchdog.armed());
  watchdog.stop(true);
  CHECK_FALSE(watchdog.armed());
  CHECK(watchdog.longest_gap(at_s(9)) == Duration{});
}

TEST_CASE("the time from power-up to the first frame is taken for a gap between frames") {
  Watchdog watchdog({.from = ArmedFrom::first_request}, {.timeout = kTimeout});
  watchdog.start(at_s(0));
  CHECK(watchdog.longest_gap(at_s(9)) == Duration{});
  watchdog.feed(at_s(9));
  CHECK(watchdog.longest_gap(at_s(10)) == std::chrono::seconds{1});
}
