// Radiation between elements and zones and between zones, held against constants and textbook examples.
#include <chrono>
#include <cmath>
#include <numbers>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/thermal/radiation.hpp"
#include "plant-models/thermal/thermal_plant.hpp"

using namespace emberline::plant;
using namespace std::chrono_literals;

namespace {

double degC(double kelvin) { return kelvin - kZeroCelsius_K; }

ZoneParameters body(double kelvin, double heat_capacity_J_per_K) {
  ZoneParameters zone;
  zone.mass_kg = heat_capacity_J_per_K / 1000.0;
  zone.specific_heat_J_per_kgK = 1000.0;
  zone.start_degC = degC(kelvin);
  return zone;
}

/// Two grey surfaces that see only each other, the inner one `area_share` of the outer (1: plates): what they
/// emit together, per area of the inner one (Cengel, Heat Transfer: A Practical Approach, ch. 13).
double together(double inner, double outer, double area_share = 1.0) {
  return 1.0 / (1.0 / inner + (1.0 / outer - 1.0) * area_share);
}

/// Heat that flows from 1 m2 of the first to the second body, W: by what the second gains in a second. Bodies
/// of 10 MJ/K hardly notice.
double flow_W(double first_K, double second_K, double emissivity) {
  ThermalPlant plant({body(first_K, 1e7), body(second_K, 1e7)}, {}, {{0, 1, 0.0, 1.0, emissivity}});
  plant.advance(1s, {});
  return 1e7 * (plant.zone_degC(1) - degC(second_K));
}

}  // namespace

TEST_CASE("the constant of radiation is that of the SI's defining constants") {
  // CODATA 2018: 2 pi^5 k^4 / (15 h^3 c^2) with k, h and c exact.
  const double k = 1.380649e-23;
  const double h = 6.62607015e-34;
  const double c = 299'792'458.0;
  const double constant =
      2.0 * std::pow(std::numbers::pi, 5) * std::pow(k, 4) / (15.0 * std::pow(h, 3) * c * c);
  CHECK(kStefanBoltzmann_W_per_m2K4 == doctest::Approx(constant).epsilon(1e-12));
  CHECK(std::abs(kStefanBoltzmann_W_per_m2K4 - 5.670374419e-8) <= 1e-17);
  constexpr struct {
    double kelvin, W_per_m2;
  } rows[] = {{300, 459.3003}, {1000, 56'703.744}, {1273.15, 148'980.71}};
  for (const auto& row : rows)
    CHECK(kStefanBoltzmann_W_per_m2K4 * fourth_powers_apart(degC(row.kelvin), degC(0.0)) ==
          doctest::Approx(row.W_per_m2).epsilon(1e-7));
}

TEST_CASE("surfaces exchange the textbook heat") {
  struct Case {
    const char* source;
    double first_K, second_K, emissivity, W_per_m2, tolerance_W_per_m2;
  };
  const Case cases[] = {
      {"Cengel, ex. 13-7, parallel plates, printed 3625", 800, 500, together(0.2, 0.7), 3625.61, 0.1},
      {"concentric cylinders of 0.01 and 0.05 m, per inner area; formula as in the Modelica Standard Library",
       1200, 600, together(0.8, 0.5, 0.2), 76'022, 5},
      {"small body in a large enclosure, derived", 1373.15, 1273.15, 0.88, 46'302, 2},
  };
  for (const auto& row : cases) {
    CAPTURE(row.source);
    CHECK(std::abs(flow_W(row.first_K, row.second_K, row.emissivity) - row.W_per_m2) <=
          row.tolerance_W_per_m2);
    CHECK(std::abs(flow_W(row.second_K, row.first_K, row.emissivity) + row.W_per_m2) <=
          row.tolerance_W_per_m2);
  }
}

TEST_CASE("a radiation shield takes the temperature and passes the heat of the textbook") {
  struct Case {
    const char* source;
    double hot_K, hot_emissivity, cold_K, cold_emissivity, shield_emissivity, W_per_m2, tolerance_W_per_m2;
    double shield_K;
  };
  const Case cases[] = {
      {"Cengel, ex. 13-11, printed 806", 800, 0.2, 500, 0.7, 0.1, 805.69, 0.05, 0.0},
      {"two plates and a shield, public solution", 750, 0.8, 550, 0.9, 0.12, 748.9, 0.5, 671.3},
  };
  for (const auto& row : cases) {
    CAPTURE(row.source);
    ThermalPlant plant({body(row.hot_K, 1e8), body(600.0, 100.0), body(row.cold_K, 1e8)}, {},
                       {{0, 1, 0.0, 1.0, together(row.hot_emissivity, row.shield_emissivity)},
                        {1, 2, 0.0, 1.0, together(row.shield_emissivity, row.cold_emissivity)}});
    plant.advance(1000s, {});
    const double before_degC = plant.zone_degC(2);
    plant.advance(10s, {});
    CHECK(std::abs(1e7 * (plant.zone_degC(2) - before_degC) - row.W_per_m2) <= row.tolerance_W_per_m2);
    if (row.shield_K > 0.0) CHECK(std::abs(plant.zone_degC(1) - degC(row.shield_K)) <= 0.1);
  }
}

TEST_CASE("a thermocouple between hot gas and a cold wall errs as in the textbook example") {
  // Cengel, ex. 13-12: wall at 400 K, reading 650 K, emissivity 0.6, film 80 W/m2K: the gas has 715.0 K.
  ZoneParameters junction = body(500.0, 20.0);
  junction.loss_W_per_K = 80.0;
  junction.ambient_degC = degC(715.02);
  ThermalPlant plant({junction, body(400.0, 1e9)}, {}, {{0, 1, 0.0, 1.0, 0.6}});
  plant.advance(100s, {});
  CHECK(std::abs(plant.zone_degC(0) - degC(650.0)) <= 0.01);
}

TEST_CASE("a junction that sees hot walls warms beyond its gas") {
  // Incropera, Fundamentals of Heat and Mass Transfer, ex. 5.2 (inputs from memory): film 400 W/m2K to gas at
  // 200 degC, emissivity 0.9, surroundings at 400 degC: settles at 218.71 degC, passes 490 K after 4.399 s
  // (derived).
  const double diameter_m = 6.0 * 400.0 * 1.0 / (8500.0 * 400.0);
  const double area_m2 = std::numbers::pi * diameter_m * diameter_m;
  ZoneParameters junction = body(298.15, 8500.0 * 400.0 * area_m2 * diameter_m / 6.0);
  junction.loss_W_per_K = 400.0 * area_m2;
  junction.ambient_degC = 200.0;
  ThermalPlant plant({junction, body(673.15, 1e9)}, {}, {{0, 1, 0.0, area_m2, 0.9}});
  double time_s = 0.0;
  for (; plant.zone_degC(0) < 490.0 - 273.15; time_s += 1e-3) plant.advance(1ms, {});
  CHECK(std::abs(time_s - 4.399) <= 2e-3);
  plant.advance(30s, {});
  CHECK(std::abs(plant.zone_degC(0) - 218.71) <= 0.03);   // 0 degC taken as 273 K
  CHECK(std::abs(plant.zone_degC(0) - 218.728) <= 1e-3);  // as 273.15 K
}

TEST_CASE("a body cools by radiation in the time of the closed form") {
  // From 1200 to 600 K, 1e4 J/m2K, emissivity 0.8. To 0 K: C/(3 e s) (1/T^3 - 1/Ti^3), 297.667 s. To 300 K:
  // Incropera, eq. 5.18, 307.088 s.
  constexpr struct { double surroundings_K, time_s; } rows[] = {{0.0, 297.667}, {300.0, 307.088}};
  for (const auto& row : rows) {
    CAPTURE(row.surroundings_K);
    ThermalPlant plant({body(1200.0, 1e4), body(row.surroundings_K, 1e12)}, {}, {{0, 1, 0.0, 1.0, 0.8}});
    double time_s = 0.0;
    double before_degC = plant.zone_degC(0);
    while (plant.zone_degC(0) > degC(600.0)) {
      before_degC = plant.zone_degC(0);
      plant.advance(100ms, {});
      time_s += 0.1;
    }
    const double now_degC = plant.zone_degC(0);
    time_s -= 0.1 * (degC(600.0) - now_degC) / (before_degC - now_degC);
    CHECK(std::abs(time_s - row.time_s) <= 2e-3);
  }
}

TEST_CASE("an element that radiates is as hot as the fourth power law makes it") {
  // The small body of the table above: 46302 W from 1 m2 of emissivity 0.88 in a zone of 1000 degC take 1100
  // degC.
  ThermalPlant plant({body(1273.15, 1e12)}, {ElementParameters{0, 2000.0, 0.0, 1.0, 0.88}});
  CHECK(plant.element_degC(0) == plant.zone_degC(0));
  plant.advance(60s, {46'302.0});
  CHECK(std::abs(plant.element_degC(0) - 1100.0) <= 0.01);
  // With 100 W/K beside it, ten kilowatts more.
  ThermalPlant both({body(1273.15, 1e12)}, {ElementParameters{0, 2000.0, 100.0, 1.0, 0.88}});
  both.advance(60s, {56'302.0});
  CHECK(std::abs(both.element_degC(0) - 1100.0) <= 0.01);
}
