// Calls are served from inside longer steps: nobody may notice.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/thermal/thermal_plant.hpp"

using namespace emberline::plant;
using namespace std::chrono_literals;

namespace {

using Nanoseconds = std::chrono::nanoseconds;

ThermalPlant furnace() {
  ZoneParameters zone;
  zone.mass_kg = 40.0;
  zone.specific_heat_J_per_kgK = 700.0;
  zone.loss_W_per_K = 6.0;
  zone.ambient_degC = 25.0;
  zone.start_degC = 400.0;
  zone.sensor_lag = 4s;
  zone.sensor_dead_time = 1500ms;
  zone.wall = WallParameters{4.0, 12.0, 9.0, {{0.025, 0.2, 130.0, 1000.0}, {0.115, 1.2, 2000.0, 900.0}}};
  ZoneParameters next = zone;
  next.wall.reset();
  next.mass_kg = 2.0;
  return {
      {zone, next}, {{0, 1500.0, 10.0, 0.4, 0.8}, {1, 60.0, 12.0}, {1, 0.0, 0.0}}, {{0, 1, 5.0, 0.05, 0.9}}};
}

struct Seen {
  std::vector<double> values;
  explicit Seen(const ThermalPlant& plant)
      : values{plant.zone_degC(0),      plant.zone_degC(1),      plant.measured_degC(0),
               plant.measured_degC(1),  plant.element_degC(0),   plant.element_degC(1),
               plant.wall_degC(0, 0.0), plant.wall_degC(0, 0.1), plant.stored_J() / 4e4,
               plant.lost_J() / 4e4} {}
};

void check_alike(const Seen& one, const Seen& two) {
  for (std::size_t i = 0; i < one.values.size(); ++i) {
    CAPTURE(i);
    CHECK(one.values[i] == doctest::Approx(two.values[i]).epsilon(1e-6));
  }
}

/// Powers by the second: some stay for long, some change every second.
std::vector<double> power_W(int second) {
  return {second % 40 < 25 ? 12'000.0 : 1000.0, second % 2 == 0 ? 800.0 : 0.0, 100.0 * (second / 30 % 4)};
}

Seen after_two_minutes(Nanoseconds step) {
  auto plant = furnace();
  for (int second = 0; second < 120; ++second) {
    for (Nanoseconds left = 1s; left.count() > 0;) {
      const auto now = std::min(left, step);
      plant.advance(now, power_W(second));
      left -= now;
    }
  }
  return Seen(plant);
}

}  // namespace

TEST_CASE("walls, radiation and neighbours do not depend on how time is cut") {
  const Seen reference = after_two_minutes(5ms);
  for (const Nanoseconds step : {Nanoseconds(20ms), Nanoseconds(16'666'667ns), Nanoseconds(37ms),
                                 Nanoseconds(100ms), Nanoseconds(700ms), Nanoseconds(1s)}) {
    CAPTURE(step.count());
    check_alike(after_two_minutes(step), reference);
  }
}

TEST_CASE("what is read inside a step is what a step up to there would have given") {
  auto looked_ahead = furnace();
  const std::vector<double> power{9000.0, 300.0, 50.0};
  looked_ahead.advance(20s, power);
  for (int call = 1; call <= 300; ++call) {
    looked_ahead.advance(7ms, power);
    if (call % 20 != 0) continue;
    auto direct = furnace();
    direct.advance(20s + call * 7ms, power);
    check_alike(Seen(looked_ahead), Seen(direct));
  }
}

TEST_CASE("a power that changes inside a step is not felt before it changes") {
  auto one = furnace();
  auto other = furnace();
  one.advance(30s, {9000.0, 300.0, 0.0});
  other.advance(30s, {9000.0, 300.0, 0.0});
  for (int call = 0; call < 3; ++call) one.advance(100ms, {9000.0, 300.0, 0.0});
  other.advance(300ms, {9000.0, 300.0, 0.0});
  one.advance(10ms, {0.0, 0.0, 0.0});
  other.advance(10ms, {0.0, 0.0, 0.0});
  check_alike(Seen(one), Seen(other));
  CHECK(one.element_degC(1) < 400.0 + 300.0 / 12.0);
}

TEST_CASE("powers that differ by a hair cost no step and lose no heat") {
  auto plant = furnace();
  auto smooth = furnace();
  double given_J = 0.0;
  for (int call = 0; call < 36'000; ++call) {
    const double hair = 1.0 + 9e-7 * (call % 11) / 10.0;
    plant.advance(100ms, {9000.0 * hair, 300.0 * hair, 0.0});
    smooth.advance(100ms, {9000.0 * (1.0 + 4.5e-7), 300.0 * (1.0 + 4.5e-7), 0.0});
    given_J += 0.1 * 9300.0 * hair;
  }
  CHECK(plant.given_J() == doctest::Approx(given_J).epsilon(1e-12));
  CHECK(std::abs(plant.given_J() - plant.stored_J() - plant.lost_J()) <= 1e-10 * given_J);
  check_alike(Seen(plant), Seen(smooth));
}

TEST_CASE("a power that changes by more than a hair is felt at once") {
  // An element of 0.1 s that stands 1000 K above a vast zone: a hundred-thousandth more is 0.01 K.
  ZoneParameters vast;
  vast.mass_kg = 1e9;
  ThermalPlant plant({vast}, {{0, 2.0, 20.0}});
  for (int call = 0; call < 305; ++call) plant.advance(100ms, {20'000.0});
  const double before_degC = plant.element_degC(0);
  plant.advance(100ms, {20'000.2});
  CHECK(std::abs(plant.element_degC(0) - before_degC + 0.01 * std::expm1(-1.0)) <= 1e-4);
  plant.advance(1s, {20'000.2});
  CHECK(std::abs(plant.element_degC(0) - before_degC - 0.01) <= 1e-4);
}

TEST_CASE("a power that creeps is followed, however slowly") {
  // 1e-7 a call: one step never sees more than ten of them.
  auto creeping = furnace();
  auto stepped = furnace();
  double power = 9000.0;
  for (int call = 0; call < 6000; ++call) {
    creeping.advance(100ms, {power, 0.0, 0.0});
    power *= 1.0 + 1e-7;
  }
  power = 9000.0;
  for (int call = 0; call < 6000; ++call) {
    for (int part = 0; part < 2; ++part)
      stepped.advance(50ms, {power, 1e-9 * part, 0.0});  // no looking ahead
    power *= 1.0 + 1e-7;
  }
  check_alike(Seen(creeping), Seen(stepped));
}

TEST_CASE("cycle by cycle bursts are integrated as they come") {
  // Every second cycle of 50 Hz against the same in ten cuts a cycle.
  auto plant = furnace();
  auto fine = furnace();
  for (int cycle = 0; cycle < 3000; ++cycle) {
    const std::vector<double> power{cycle % 2 == 0 ? 20'000.0 : 0.0, cycle % 3 == 0 ? 900.0 : 0.0, 0.0};
    plant.advance(20ms, power);
    for (int part = 0; part < 10; ++part) fine.advance(2ms, power);
  }
  check_alike(Seen(plant), Seen(fine));
}

TEST_CASE("a sensor lags and delays by its times, however far is looked ahead") {
  // A ramp of 0.1 K/s: behind by dead time and lag, and only begins to move after the dead time.
  ZoneParameters zone;
  zone.mass_kg = 180.0;
  zone.specific_heat_J_per_kgK = 900.0;
  zone.sensor_lag = 2s;
  zone.sensor_dead_time = 1250ms;
  for (const Nanoseconds step : {Nanoseconds(20ms), Nanoseconds(100ms), Nanoseconds(900ms)}) {
    CAPTURE(step.count());
    ThermalPlant plant({zone}, {{0, 0.0, 0.0}});
    for (int still = 0; still < 57; ++still) plant.advance(step, {0.0});  // far into a step
    for (Nanoseconds now = step; now <= 30s; now += step) {
      plant.advance(step, {16'200.0});
      const double since_s = static_cast<double>((now - Nanoseconds(1250ms)).count()) * 1e-9;
      const double expected = since_s <= 0.0 ? 0.0 : 0.1 * (since_s + 2.0 * std::expm1(-since_s / 2.0));
      REQUIRE(std::abs(plant.measured_degC(0) - 20.0 - expected) <= 1e-9);
    }
  }
}
