#include "sim/rehearsal/profile.hpp"

#include <chrono>

#include <doctest/doctest.h>

#include "sim/rehearsal/pi_loop.hpp"

namespace emberline::rehearsal {
namespace {

using namespace std::chrono_literals;

TEST_CASE("a firing curve climbs, soaks and cools as computed by hand") {
  // From 20 degC at 360 K/h (0.1 K/s) to 560 degC: 5400 s; 30 min soak; 100 K/h down to 100 degC: 460 K in
  // 16560 s.
  const std::vector<ProfileSegment> segments = {
      {560.0, 0.1, {}}, {std::nullopt, 0.0, 30min}, {100.0, 100.0 / 3600, {}}};
  Profile profile(segments);
  CHECK_FALSE(profile.begun());
  const SimTime start{7min};
  profile.begin(start, 20.0);
  CHECK(profile.begun());
  struct Row {
    Duration after;
    double degC;
    const char* source;
  };
  const Row rows[] = {
      {0s, 20.0, "the measured temperature"},
      {1s, 20.1, "0.1 K/s"},
      {600s, 80.0, "20 + 600 x 0.1"},
      {5399s, 559.9, "20 + 5399 x 0.1"},
      {5400s, 560.0, "540 K at 0.1 K/s"},
      {5400s + 15min, 560.0, "in the soak"},
      {5400s + 30min, 560.0, "the end of the soak"},
      {5400s + 30min + 36s, 559.0, "36 s at 100 K/h are 1 K"},
      {5400s + 30min + 16560s, 100.0, "460 K at 100 K/h are 4.6 h"},
      {240h, 100.0, "stays for good"},
  };
  for (const auto& [after, degC, source] : rows) {
    CAPTURE(source);
    CHECK(profile.setpoint_degC(start + after) == doctest::Approx(degC).epsilon(1e-12));
  }
  profile.forget();
  profile.begin(start, 600.0);
  CHECK(profile.setpoint_degC(start + 100s) == doctest::Approx(590.0).epsilon(1e-12));  // hotter: comes down
}

TEST_CASE("a curve that begins with a soak, or where it is already, does not jump") {
  const std::vector<ProfileSegment> soak_first = {{std::nullopt, 0.0, 10s}, {100.0, 1.0, {}}};
  Profile profile(soak_first);
  profile.begin(SimTime{}, 40.0);
  CHECK(profile.setpoint_degC(SimTime{10s}) == 40.0);
  CHECK(profile.setpoint_degC(SimTime{20s}) == doctest::Approx(50.0).epsilon(1e-12));
  const std::vector<ProfileSegment> there = {{40.0, 1.0, {}}, {50.0, 1.0, {}}};
  Profile second(there);
  second.begin(SimTime{}, 40.0);
  CHECK(second.setpoint_degC(SimTime{}) == 40.0);
  CHECK(second.setpoint_degC(SimTime{3s}) == doctest::Approx(43.0).epsilon(1e-12));
}

TEST_CASE("a loop with a ceiling of its own stops its integral there") {
  // u_k = K (e_k + (T/Ti) sum e): Seborg, Edgar, Mellichamp, Process Dynamics and Control, position form of
  // the digital controller (formula from memory); K = 4 %/K, T = 2 s, Ti = 120 s, held within 10 % and 40 %.
  PiLoop loop({0.04, 2s, 120s, 0.1, 0.4});
  CHECK(loop.next(6.0) == doctest::Approx(0.04 * (6.0 + 6.0 / 60)).epsilon(1e-12));
  for (int k = 0; k < 1000; ++k) CHECK(loop.next(20.0) == 0.4);
  CHECK(loop.next(5.0) == doctest::Approx(0.04 * (5.0 + 11.0 / 60)).epsilon(1e-12));  // 6 + 5: no 20 is in it
  for (int k = 0; k < 1000; ++k) CHECK(loop.next(-20.0) == 0.1);
  CHECK(loop.next(5.0) == doctest::Approx(0.04 * (5.0 + 16.0 / 60)).epsilon(1e-12));
}

TEST_CASE("a careless loop winds up by what the formula says, and a careful one does not") {
  // An hour at e = 500 K: the sum is 1800 x 500 K, of which at e = -1 K a part of 1/60 stands against it.
  PiLoop careless({0.04, 2s, 120s, 0.0, 1.0, true});
  PiLoop careful({0.04, 2s, 120s});
  for (int k = 0; k < 1800; ++k) {
    CHECK(careless.next(500.0) == 1.0);
    CHECK(careful.next(500.0) == 1.0);
  }
  CHECK(careful.next(-1.0) == 0.0);
  // 0.04 (-1 + (900000 - n)/60) falls below 1 when n exceeds 900000 - 60 x 26 = 898440 samples of -1 K.
  long samples = 0;
  while (careless.next(-1.0) == 1.0 && samples < 2'000'000) ++samples;
  CHECK(samples == doctest::Approx(898440).epsilon(1e-5));
}

}  // namespace
}  // namespace emberline::rehearsal
