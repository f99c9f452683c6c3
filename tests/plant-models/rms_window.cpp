#include "plant-models/electrical/rms_window.hpp"

#include <chrono>
#include <cmath>

#include <doctest/doctest.h>

using namespace emberline::plant;
using namespace std::chrono_literals;

TEST_CASE("the mean of a constant is the constant, once the window is full") {
  SlidingMean<1> meter(200ms);
  meter.append(100ms, {50.0});
  CHECK(meter.mean()[0] == doctest::Approx(25.0));  // what lies before the start counts as zero
  meter.append(100ms, {50.0});
  CHECK(meter.mean()[0] == doctest::Approx(50.0));
  meter.append(1h, {50.0});
  CHECK(meter.mean()[0] == doctest::Approx(50.0));
}

TEST_CASE("an empty meter shows zero") { CHECK(SlidingMean<2>(1s).mean()[1] == 0.0); }

TEST_CASE("the window cuts through a stretch exactly") {
  SlidingMean<2> meter(200ms);
  meter.append(150ms, {100.0, 1.0});
  meter.append(130ms, {40.0, 0.0});
  // 70 ms of the first are left.
  CHECK(meter.mean()[0] == doctest::Approx((70.0 * 100.0 + 130.0 * 40.0) / 200.0));
  CHECK(meter.mean()[1] == doctest::Approx(70.0 / 200.0));
  meter.append(201ms, {8.0, 3.0});
  CHECK(meter.mean()[0] == doctest::Approx(8.0));
  CHECK(meter.mean()[1] == doctest::Approx(3.0));
}

TEST_CASE("cycles on and off show the RMS of the burst and not a filtered one") {
  SlidingMean<1> meter(200ms);
  for (int cycle = 0; cycle < 1000; ++cycle) meter.append(20ms, {cycle % 2 == 0 ? 230.0 * 230.0 : 0.0});
  CHECK(std::sqrt(meter.mean()[0]) == doctest::Approx(230.0 * std::sqrt(0.5)).epsilon(1e-12));
}

TEST_CASE("how a stretch is cut does not matter, and empty stretches are nothing") {
  SlidingMean<1> whole(200ms);
  SlidingMean<1> cut(200ms);
  for (int round = 0; round < 10; ++round) {
    const double value = round % 3;
    whole.append(33ms, {value});
    for (int part = 0; part < 33; ++part) cut.append(1ms, {value});
    cut.append(0ms, {1e9});
    CHECK(whole.mean()[0] == doctest::Approx(cut.mean()[0]).epsilon(1e-12));
  }
}
