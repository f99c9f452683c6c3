#include "plant-models/thermal/sensor.hpp"

#include <chrono>
#include <cmath>

#include <doctest/doctest.h>

using namespace emberline::plant;
using namespace std::chrono_literals;

namespace {

using Nanoseconds = std::chrono::nanoseconds;

double seconds(Nanoseconds time) { return static_cast<double>(time.count()) * 1e-9; }

/// A ramp of `slope` from 20 degC.
Stretch ramp(Nanoseconds from, Nanoseconds length, double slope) {
  return {length, 20.0 + slope * seconds(from), slope, 20.0 + slope * seconds(from + length), slope};
}

}  // namespace

TEST_CASE("on a ramp a sensor trails by dead time and lag, exactly") {
  struct Case {
    Nanoseconds lag, dead_time, step;
  };
  const Case cases[] = {
      {12s, 3s, 100ms}, {12s, 3s, 1s},           {12s, 0s, 100ms},    {0s, 3s, 100ms}, {12s, 3050ms, 100ms},
      {5ms, 3s, 20ms},  {12s, 123456789ns, 7ms}, {10'000s, 3s, 20ms}, {2s, 1s, 60s},
  };
  for (const auto& row : cases) {
    CAPTURE(row.lag.count());
    CAPTURE(row.dead_time.count());
    CAPTURE(row.step.count());
    Sensor sensor({row.lag, row.dead_time, 20.0});
    Nanoseconds now{};
    for (int step = 0; step < 1000; ++step) {
      sensor.advance(ramp(now, row.step, 0.7));
      now += row.step;
      const double since_s = seconds(now - row.dead_time);
      const double lag_s = seconds(row.lag);
      double expected = 20.0;
      if (since_s > 0.0)
        expected += 0.7 * (since_s - (lag_s > 0.0 ? lag_s * -std::expm1(-since_s / lag_s) : 0.0));
      REQUIRE(std::abs(sensor.measured_degC() - expected) <= 1e-7);
    }
  }
}

TEST_CASE("a steady temperature is shown to the last digit") {
  Sensor sensor({12s, 3050ms, 541.3});
  for (int step = 0; step < 10'000; ++step) {
    sensor.advance({100ms, 541.3, 0.0, 541.3, 0.0});
    REQUIRE(sensor.measured_degC() == 541.3);
  }
}

TEST_CASE("a part of a cubic is the same cubic") {
  // T = 5 + 2 t - 3 t^2 + t^3 over 4 s
  const auto value = [](double t) { return 5.0 + t * (2.0 + t * (-3.0 + t)); };
  const auto slope = [](double t) { return 2.0 + t * (-6.0 + 3.0 * t); };
  const Stretch whole{4s, value(0), slope(0), value(4), slope(4)};
  const Stretch part = whole.part(1s, 2500ms);
  CHECK(part.length == 1500ms);
  CHECK(part.start_degC == doctest::Approx(value(1)));
  CHECK(part.start_slope_K_per_s == doctest::Approx(slope(1)));
  CHECK(part.end_degC == doctest::Approx(value(2.5)));
  CHECK(part.end_slope_K_per_s == doctest::Approx(slope(2.5)));
}

TEST_CASE("a lag moved over a cubic in one step or in many comes to the same") {
  // The short and the long step take different formulas.
  const auto value = [](double t) { return 5.0 + t * (2.0 + t * (-3.0 + t)); };
  const auto slope = [](double t) { return 2.0 + t * (-6.0 + 3.0 * t); };
  const Stretch whole{4s, value(0), slope(0), value(4), slope(4)};
  for (const Nanoseconds lag : {Nanoseconds(100ms), Nanoseconds(1s), Nanoseconds(3999ms), Nanoseconds(40s)}) {
    CAPTURE(lag.count());
    FirstOrderLag once(lag, 1.0);
    FirstOrderLag often(lag, 1.0);
    once.advance(whole);
    for (Nanoseconds at{}; at < 4s; at += 10ms) often.advance(whole.part(at, at + 10ms));
    CHECK(once.output_degC() == doctest::Approx(often.output_degC()).epsilon(1e-10));
  }
}
