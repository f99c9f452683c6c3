#include "plant-models/thermal/thermal_plant.hpp"

#include <chrono>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include <doctest/doctest.h>

using namespace emberline::plant;
using namespace std::chrono_literals;

namespace {

using Nanoseconds = std::chrono::nanoseconds;

ZoneParameters lehr_zone() {
  ZoneParameters zone;
  zone.mass_kg = 180.0;
  zone.specific_heat_J_per_kgK = 900.0;
  zone.loss_W_per_K = 38.0;
  zone.ambient_degC = 25.0;
  zone.start_degC = 540.0;
  zone.sensor_lag = 12s;
  zone.sensor_dead_time = 3s;
  return zone;
}

/// Ten minutes with the power changed every 50 s, in steps of `step`.
ThermalPlant after_ten_minutes(Nanoseconds step) {
  ZoneParameters quick = lehr_zone();
  quick.mass_kg = 0.5;
  ThermalPlant plant({lehr_zone(), quick}, {ElementParameters{0, 800.0, 40.0}, ElementParameters{1, 0.0, 0.0},
                                            ElementParameters{1, 20.0, 15.0}});
  for (int part = 0; part < 12; ++part) {
    const std::vector<double> power_W{part % 2 == 0 ? 24'000.0 : 3000.0, 500.0 * part,
                                      part % 3 == 0 ? 2000.0 : 0.0};
    for (Nanoseconds left = 50s; left.count() > 0;) {
      const auto now = std::min(left, step);
      plant.advance(now, power_W);
      left -= now;
    }
  }
  return plant;
}

}  // namespace

TEST_CASE("it does not matter how time is cut") {
  const auto reference = after_ten_minutes(10ms);
  for (const Nanoseconds step : {Nanoseconds(20ms), Nanoseconds(37ms), Nanoseconds(100ms), Nanoseconds(1s),
                                 Nanoseconds(1300ms), Nanoseconds(50s)}) {
    CAPTURE(step.count());
    const auto plant = after_ten_minutes(step);
    for (std::size_t zone = 0; zone < 2; ++zone) {
      CHECK(plant.zone_degC(zone) == doctest::Approx(reference.zone_degC(zone)).epsilon(1e-6));
      CHECK(plant.measured_degC(zone) == doctest::Approx(reference.measured_degC(zone)).epsilon(1e-6));
    }
    CHECK(plant.element_degC(0) == doctest::Approx(reference.element_degC(0)).epsilon(1e-6));
    CHECK(plant.element_degC(2) == doctest::Approx(reference.element_degC(2)).epsilon(1e-6));
  }
}

TEST_CASE("the same steps give the same digits") {
  const auto one = after_ten_minutes(37ms);
  const auto two = after_ten_minutes(37ms);
  CHECK(one.zone_degC(0) == two.zone_degC(0));
  CHECK(one.measured_degC(1) == two.measured_degC(1));
  CHECK(one.element_degC(2) == two.element_degC(2));
}

TEST_CASE("no heat gets lost or is made") {
  ThermalPlant plant({lehr_zone()}, {ElementParameters{0, 800.0, 40.0}, ElementParameters{0, 0.0, 0.0}});
  double given_J = 0.0;
  double lost_J = 0.0;
  const auto loss_W = [&] { return 38.0 * (plant.zone_degC(0) - 25.0); };
  for (int step = 0; step < 36'000; ++step) {
    const double before_W = loss_W();
    const double power_W = step % 5000 < 2000 ? 24'000.0 : 0.0;
    plant.advance(100ms, {power_W, 1000.0});
    given_J += 0.1 * (power_W + 1000.0);
    lost_J += 0.1 * 0.5 * (before_W + loss_W());
  }
  const double stored_J =
      180.0 * 900.0 * (plant.zone_degC(0) - 540.0) + 800.0 * (plant.element_degC(0) - 540.0);
  CHECK(std::abs(given_J - lost_J - stored_J) <= 1e-6 * given_J);
}

TEST_CASE("element and zone exchange heat as two bodies do") {
  // Without loss their difference goes to P/k (C z/(C + Cz)) with the time constant C Cz/(k (C + Cz)).
  ZoneParameters zone;
  zone.mass_kg = 2.0;
  zone.specific_heat_J_per_kgK = 500.0;
  ThermalPlant plant({zone}, {ElementParameters{0, 250.0, 10.0}});
  const double series_J_per_K = 250.0 * 1000.0 / 1250.0;
  for (int step = 1; step <= 1200; ++step) {
    plant.advance(100ms, {400.0});
    const double time_s = 0.1 * step;
    const double difference_K =
        400.0 * series_J_per_K / 250.0 / 10.0 * -std::expm1(-time_s * 10.0 / series_J_per_K);
    REQUIRE(std::abs(plant.element_degC(0) - plant.zone_degC(0) - difference_K) <= 1e-6);
    const double mean_degC = (250.0 * plant.element_degC(0) + 1000.0 * plant.zone_degC(0)) / 1250.0;
    REQUIRE(std::abs(mean_degC - 20.0 - 400.0 * time_s / 1250.0) <= 1e-6);
  }
}

TEST_CASE("the sensor of a zone on a ramp trails it by dead time and lag") {
  ZoneParameters zone = lehr_zone();
  zone.loss_W_per_K = 0.0;
  for (const Nanoseconds step : {Nanoseconds(20ms), Nanoseconds(100ms), Nanoseconds(1s)}) {
    ThermalPlant plant({zone}, {ElementParameters{0, 0.0, 0.0}});
    const double slope = 16'200.0 / (180.0 * 900.0);  // 0.1 K/s
    for (Nanoseconds now = step; now <= 120s; now += step) {
      plant.advance(step, {16'200.0});
      const double since_s = static_cast<double>((now - Nanoseconds(3s)).count()) * 1e-9;
      const double expected =
          since_s <= 0.0 ? 540.0 : 540.0 + slope * (since_s + 12.0 * std::expm1(-since_s / 12.0));
      REQUIRE(std::abs(plant.measured_degC(0) - expected) <= 1e-4);
    }
  }
}

TEST_CASE("an element without heat capacity is as warm as its zone, one without a zone stays at 20 degC") {
  ThermalPlant plant({lehr_zone()},
                     {ElementParameters{0, 0.0, 0.0}, ElementParameters{std::nullopt, 0.0, 0.0},
                      ElementParameters{std::nullopt, 500.0, 5.0}});
  ThermalPlant alone({lehr_zone()}, {ElementParameters{0, 0.0, 0.0}});
  CHECK(plant.element_degC(0) == 540.0);
  for (int second = 0; second < 60; ++second) {
    plant.advance(1s, {20'000.0, 9e6, 9e6});
    alone.advance(1s, {20'000.0});
  }
  CHECK(plant.element_degC(0) == plant.zone_degC(0));
  CHECK(plant.element_degC(1) == 20.0);
  CHECK(plant.element_degC(2) == 20.0);
  CHECK(plant.zone_degC(0) == alone.zone_degC(0));
}

TEST_CASE("a sensor without lag and dead time shows the zone") {
  ZoneParameters zone = lehr_zone();
  zone.sensor_lag = {};
  zone.sensor_dead_time = {};
  ThermalPlant plant({zone}, {ElementParameters{0, 0.0, 0.0}});
  plant.advance(10s, {50'000.0});
  CHECK(plant.measured_degC(0) == plant.zone_degC(0));
  CHECK(plant.zone_degC(0) > 541.0);
}

TEST_CASE("a bench without zones is moved on without a word") {
  ThermalPlant plant({}, {ElementParameters{std::nullopt, 0.0, 0.0}});
  plant.advance(1h, {1000.0});
  CHECK(plant.element_degC(0) == 20.0);
}

TEST_CASE("a quick element beside a slow zone is followed, not overshot") {
  // 20 ms time constant under steps of 1 s: the step control has to cut.
  ThermalPlant plant({lehr_zone()}, {ElementParameters{0, 2.0, 100.0}});
  for (int second = 0; second < 30; ++second) {
    plant.advance(1s, {10'000.0});
    REQUIRE(plant.element_degC(0) - plant.zone_degC(0) == doctest::Approx(100.0).epsilon(1e-3));
  }
}

TEST_CASE("thermal parameters that cannot be are refused in one line each") {
  CHECK(ThermalPlant::problems(lehr_zone()).empty());
  ZoneParameters zone = lehr_zone();
  zone.mass_kg = 0.0;
  zone.specific_heat_J_per_kgK = -1.0;
  zone.loss_W_per_K = std::nan("");
  zone.start_degC = -300.0;
  zone.sensor_lag = -1s;
  const auto found = ThermalPlant::problems(zone);
  REQUIRE(found.size() == 5);
  CHECK(found[0] == "mass: given 0 kg, expected a value above 0 kg");
  CHECK(found[3] == "start: given -300 degC, expected -273.15 degC or more");
  CHECK(found[4] == "sensor lag: given -1 s, expected 0 s or more");

  ZoneParameters grams = lehr_zone();
  grams.mass_kg = 1e-6;
  CHECK(ThermalPlant::problems(grams).size() == 1);

  CHECK(ThermalPlant::problems(ElementParameters{0, 0.0, 0.0}).empty());
  CHECK(ThermalPlant::problems(ElementParameters{0, 100.0, 5.0}).empty());
  CHECK(ThermalPlant::problems(ElementParameters{0, 100.0, 0.0}).size() == 1);
  CHECK(ThermalPlant::problems(ElementParameters{0, -1.0, -1.0}).size() == 2);
  CHECK(ThermalPlant::problems(ElementParameters{0, 0.001, 100.0}).size() == 1);
}

TEST_CASE("walls, radiation and neighbours that cannot be are refused in one line each") {
  ZoneParameters zone = lehr_zone();
  zone.wall = WallParameters{};
  CHECK(ThermalPlant::problems(zone) ==
        std::vector<std::string>{"wall layers: given 0, expected one or more"});
  zone.wall->layers = {{0.1, 1.0, 2000.0, 900.0}};
  CHECK(ThermalPlant::problems(zone).empty());
  zone.mass_kg = 1e-5;
  REQUIRE(ThermalPlant::problems(zone).size() == 1);
  CHECK(ThermalPlant::problems(zone)[0].find("wall area x inside_film") != std::string::npos);

  CHECK(ThermalPlant::problems(ElementParameters{0, 100.0, 0.0, 0.1, 0.8}).empty());
  CHECK(ThermalPlant::problems(ElementParameters{0, 100.0, 5.0, 0.1, 0.8}).empty());
  for (const auto& element :
       {ElementParameters{0, 100.0, 0.0, 0.1, 0.0}, ElementParameters{0, 100.0, 0.0, 0.0, 0.8},
        ElementParameters{0, 100.0, 5.0, 0.1, 1.1}, ElementParameters{0, 100.0, 5.0, -0.1, 0.8},
        ElementParameters{0, 0.0, 0.0, 0.1, 0.8}, ElementParameters{0, 0.01, 0.0, 0.1, 0.8}})
    CHECK(ThermalPlant::problems(element).size() == 1);
  CHECK(ThermalPlant::problems(ElementParameters{0, 0.0, 0.0, 0.1, 0.8})[0] ==
        "radiating_area: given 0.1 m2, expected a heat_capacity beside it: without one an element is as warm "
        "as "
        "its zone");

  CHECK(ThermalPlant::problems(NeighbourParameters{0, 1, 5.0, 0.0, 1.0}).empty());
  CHECK(ThermalPlant::problems(NeighbourParameters{0, 1, 0.0, 0.2, 0.9}).empty());
  for (const auto& neighbour :
       {NeighbourParameters{0, 1, 0.0, 0.0, 1.0}, NeighbourParameters{0, 1, 0.0, 0.2, 0.0},
        NeighbourParameters{2, 2, 5.0, 0.0, 1.0}, NeighbourParameters{0, 1, -5.0, 0.0, 1.0},
        NeighbourParameters{0, 1, 5.0, 0.0, 2.0}})
    CHECK(ThermalPlant::problems(neighbour).size() == 1);
  CHECK(ThermalPlant::problems(NeighbourParameters{0, 1, 5.0, 0.0, 2.0})[0] ==
        "emissivity: given 2, expected 0 to 1");
  CHECK(ThermalPlant::problems(NeighbourParameters{0, 1, 5.0, 0.0, 1.0}, lehr_zone(), lehr_zone()).empty());
  CHECK(ThermalPlant::problems(NeighbourParameters{0, 1, 1e8, 0.0, 1.0}, lehr_zone(), lehr_zone()).size() ==
        1);
}
