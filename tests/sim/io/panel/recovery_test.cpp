#include "sim/io/panel/recovery.hpp"

#include <vector>

#include <doctest/doctest.h>

using namespace emberline;
using namespace std::chrono_literals;
using Unit = io::Recovery::Unit;

namespace {

SimTime at(double seconds) { return SimTime{from_seconds(seconds)}; }
constexpr Unit kHeats{true, true};
constexpr Unit kIdle{true, false};
constexpr Unit kOff{false, false};

}  // namespace

TEST_CASE("the time to recover ends when the first of several units is back") {
  io::Recovery recovery;
  recovery.look(at(1), {kHeats, kHeats, kIdle});
  CHECK_FALSE(recovery.lost_at());
  recovery.look(at(10), {kOff, kHeats, kIdle});
  recovery.look(at(11), {kOff, kOff, kIdle});
  CHECK(recovery.lost_at() == at(10));
  CHECK(recovery.units() == std::vector<std::size_t>{0, 1});
  recovery.look(at(15), {kHeats, kOff, kIdle});
  CHECK_FALSE(recovery.back_at());
  CHECK(recovery.length(at(16)) == 6s);
  recovery.look(at(18), {kHeats, kHeats, kIdle});
  CHECK(recovery.back_at() == at(18));
  CHECK(recovery.length(at(100)) == 8s);
}

TEST_CASE("a unit that may run but gives nothing counts as recovered") {
  io::Recovery recovery;
  recovery.look(at(1), {kHeats});
  recovery.look(at(2), {kOff});
  recovery.look(at(3), {kIdle});
  CHECK_FALSE(recovery.back_at());
  recovery.look(at(4), {kHeats});
  CHECK(recovery.back_at() == at(4));
}

TEST_CASE("a unit that gave nothing counts as lost") {
  io::Recovery recovery;
  recovery.look(at(1), {kIdle});
  recovery.look(at(2), {kOff});
  CHECK_FALSE(recovery.lost_at());
}

TEST_CASE("a second loss is added to the first") {
  io::Recovery recovery;
  for (const double start : {0.0, 100.0}) {
    recovery.look(at(start + 1), {kHeats});
    recovery.look(at(start + 2), {kOff});
    recovery.look(at(start + 5), {kHeats});
    CHECK(recovery.lost_at() == at(start + 2));
    CHECK(recovery.length(at(1000)) == 3s);
  }
}
