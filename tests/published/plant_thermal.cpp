#include <chrono>
#include <cmath>
#include <numbers>

#include <doctest/doctest.h>

#include "plant-models/thermal/sensor.hpp"
#include "plant-models/thermal/thermal_plant.hpp"

using namespace emberline::plant;
using namespace std::chrono_literals;

namespace {

/// Seconds until the zone, without heating, passes `target_degC`; it is looked at every millisecond.
double time_to_reach_s(const ZoneParameters& zone, double target_degC) {
  ThermalPlant plant({zone}, {});
  double before = plant.zone_degC(0);
  for (int step = 0; step < 100'000; ++step) {
    plant.advance(1ms, {});
    const double now = plant.zone_degC(0);
    if ((before - target_degC) * (now - target_degC) <= 0.0)
      return 1e-3 * (step + (target_degC - before) / (now - before));
    before = now;
  }
  return -1.0;
}

}  // namespace

TEST_CASE("a zone's step response is the first-order one") {
  // Exact: 1 - exp(-n); any textbook on lumped capacitance. Settles P/loss above ambient, time constant
  // mc/loss.
  constexpr struct {
    int time_constants;
    double fraction;
  } rows[] = {{1, 0.632121}, {2, 0.864665}, {3, 0.950213}, {4, 0.981684}, {5, 0.993262}};
  ZoneParameters zone;
  zone.mass_kg = 10.0;
  zone.specific_heat_J_per_kgK = 500.0;
  zone.loss_W_per_K = 50.0;
  for (const auto step :
       {std::chrono::nanoseconds(100ms), std::chrono::nanoseconds(20ms), std::chrono::nanoseconds(100s)}) {
    ThermalPlant plant({zone}, {ElementParameters{0, 0.0, 0.0}});
    for (const auto& row : rows) {
      CAPTURE(row.time_constants);
      for (std::chrono::nanoseconds done{}; done < 100s; done += step) plant.advance(step, {5000.0});
      CHECK(std::abs((plant.zone_degC(0) - 20.0) / 100.0 - row.fraction) <= 1e-6);
      CHECK(plant.zone_degC(0) ==
            doctest::Approx(20.0 + 100.0 * -std::expm1(-row.time_constants)).epsilon(1e-8));
    }
  }
}

TEST_CASE("a thermocouple junction warms as in the textbook example") {
  // Incropera, Fundamentals of Heat and Mass Transfer, ex. 5.1: sphere, h 400 W/m2K, c 400 J/kgK,
  // 8500 kg/m3, time constant 1 s; from 25 to 199 degC in gas at 200 degC: printed 5.2 s, exactly 5.165 s.
  const double diameter_m = 6.0 * 400.0 * 1.0 / (8500.0 * 400.0);
  ZoneParameters junction;
  junction.mass_kg = 8500.0 * std::numbers::pi * std::pow(diameter_m, 3) / 6.0;
  junction.specific_heat_J_per_kgK = 400.0;
  junction.loss_W_per_K = 400.0 * std::numbers::pi * diameter_m * diameter_m;
  junction.ambient_degC = 200.0;
  junction.start_degC = 25.0;
  const double time_s = time_to_reach_s(junction, 199.0);
  CHECK(std::abs(time_s - 5.2) <= 0.05);
  CHECK(std::abs(time_s - 5.165) <= 5e-4);
}

TEST_CASE("a small sphere reaches 99 % as in the textbook example") {
  // Cengel, Heat Transfer: A Practical Approach, ex. 4-1: sphere of 1 mm, 8500 kg/m3, 320 J/kgK, 210 W/m2K:
  // printed 10 s, exactly 9.94 s.
  const double diameter_m = 1e-3;
  ZoneParameters sphere;
  sphere.mass_kg = 8500.0 * std::numbers::pi * std::pow(diameter_m, 3) / 6.0;
  sphere.specific_heat_J_per_kgK = 320.0;
  sphere.loss_W_per_K = 210.0 * std::numbers::pi * diameter_m * diameter_m;
  sphere.ambient_degC = 100.0;
  sphere.start_degC = 0.0;
  const double time_s = time_to_reach_s(sphere, 99.0);
  CHECK(std::abs(time_s - 10.0) <= 0.5);
  CHECK(std::abs(time_s - 9.94) <= 5e-3);
}

TEST_CASE("first order with dead time follows the closed form") {
  // K (1 - exp(-(t - L)/T)) times the step, with K 2, T 120 s, L 15 s, step 10 %; digits derived.
  constexpr struct {
    int time_s;
    double response;
  } rows[] = {{15, 0.0}, {55, 5.66937}, {75, 7.86939}, {135, 12.64241}, {255, 17.29329}, {375, 19.00426}};
  SUBCASE("the zone is the lag, the sensor the dead time") {
    ZoneParameters zone;
    zone.mass_kg = 12.0;
    zone.specific_heat_J_per_kgK = 500.0;
    zone.loss_W_per_K = 50.0;
    zone.sensor_dead_time = 15s;
    ThermalPlant plant({zone}, {ElementParameters{0, 0.0, 0.0}});
    int now_s = 0;
    for (const auto& row : rows) {
      CAPTURE(row.time_s);
      for (; now_s < row.time_s; ++now_s)
        for (int part = 0; part < 10; ++part) plant.advance(100ms, {1000.0});
      CHECK(std::abs(plant.measured_degC(0) - 20.0 - row.response) <= 1e-5);
    }
  }
  SUBCASE("the sensor is both") {
    Sensor sensor({120s, 15s, 0.0});
    std::chrono::nanoseconds now{};
    for (const auto& row : rows) {
      CAPTURE(row.time_s);
      for (; now < std::chrono::seconds(row.time_s); now += 200ms)
        sensor.advance({200ms, 20.0, 0.0, 20.0, 0.0});
      CHECK(std::abs(sensor.measured_degC() - row.response) <= 1e-5);
    }
  }
}

TEST_CASE("an insulated zone warms by its energy balance") {
  // dT/dt = P/(mc): 1 kW into 10 kg of 500 J/kgK is 0.2 K/s.
  ZoneParameters zone;
  zone.mass_kg = 10.0;
  zone.specific_heat_J_per_kgK = 500.0;
  ThermalPlant plant({zone}, {ElementParameters{0, 0.0, 0.0}});
  for (int second = 1; second <= 100; ++second) {
    plant.advance(1s, {1000.0});
    CHECK(plant.zone_degC(0) == doctest::Approx(20.0 + 0.2 * second).epsilon(1e-12));
  }
}

TEST_CASE("first order with dead time is identified again from its step response") {
  // Two-point method (Smith's, attribution from memory): T = 1.5 (t63.2 - t28.3), L = t63.2 - T; the fraction
  // at L + T/3 is 0.283469.
  Sensor sensor({120s, 15s, 0.0});
  double at_28_s = 0.0;
  double at_63_s = 0.0;
  double before = 0.0;
  for (int step = 1; at_63_s == 0.0; ++step) {
    sensor.advance({100ms, 1.0, 0.0, 1.0, 0.0});
    const double now = sensor.measured_degC();
    const auto passed = [&](double fraction) { return 0.1 * (step - (now - fraction) / (now - before)); };
    if (before < 0.283469 && now >= 0.283469) at_28_s = passed(0.283469);
    if (before < 0.632121 && now >= 0.632121) at_63_s = passed(0.632121);
    before = now;
  }
  const double lag_s = 1.5 * (at_63_s - at_28_s);
  CHECK(std::abs(lag_s - 120.0) <= 1e-2);
  CHECK(std::abs(at_63_s - lag_s - 15.0) <= 1e-2);
}
