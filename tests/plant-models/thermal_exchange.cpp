// Heat between elements, zones and walls: balances, symmetry, what may never happen.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <random>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/thermal/thermal_plant.hpp"

using namespace emberline::plant;
using namespace std::chrono_literals;

namespace {

ZoneParameters plain_zone(double mass_kg, double start_degC) {
  ZoneParameters zone;
  zone.mass_kg = mass_kg;
  zone.specific_heat_J_per_kgK = 500.0;
  zone.start_degC = start_degC;
  return zone;
}

/// Firebrick, insulating brick, a steel shell.
WallParameters kiln_wall() {
  WallParameters wall;
  wall.area_m2 = 6.0;
  wall.inside_film_W_per_m2K = 15.0;
  wall.outside_film_W_per_m2K = 8.0;
  wall.layers = {{0.115, 1.2, 2000.0, 900.0}, {0.115, 0.25, 800.0, 1000.0}, {0.004, 50.0, 7850.0, 480.0}};
  return wall;
}

/// Given is what is stored and lost, to a millionth of what moved.
bool balances(const ThermalPlant& plant) {
  const double moved_J =
      std::abs(plant.given_J()) + std::abs(plant.lost_J()) + std::abs(plant.stored_J()) + 1.0;
  return std::abs(plant.given_J() - plant.stored_J() - plant.lost_J()) <= 1e-6 * moved_J;
}

}  // namespace

TEST_CASE("what one neighbour loses the other gains, whichever is named first") {
  for (const bool turned : {false, true}) {
    NeighbourParameters between{0, 1, 12.0, 0.3, 0.8};
    if (turned) std::swap(between.a, between.b);
    ThermalPlant plant({plain_zone(20.0, 900.0), plain_zone(50.0, 300.0)}, {}, {between});
    for (int second = 0; second < 600; ++second) {
      plant.advance(1s, {});
      const double first_J = 20.0 * 500.0 * (plant.zone_degC(0) - 900.0);
      const double second_J = 50.0 * 500.0 * (plant.zone_degC(1) - 300.0);
      REQUIRE(std::abs(first_J + second_J) <= 1e-5);
      REQUIRE(plant.zone_degC(0) > plant.zone_degC(1));
    }
    CHECK(std::abs(plant.stored_J()) <= 1e-5);
    CHECK(plant.lost_J() == 0.0);
  }
}

TEST_CASE("neighbours that lose nothing end at their common mean") {
  const double mean_degC = (20.0 * 900.0 + 50.0 * 300.0 + 10.0 * 100.0) / 80.0;
  ThermalPlant plant({plain_zone(20.0, 900.0), plain_zone(50.0, 300.0), plain_zone(10.0, 100.0)}, {},
                     {{0, 1, 25.0, 0.0, 1.0}, {2, 1, 0.0, 0.4, 0.9}});
  plant.advance(6h, {});
  for (const std::size_t zone : {0U, 1U, 2U})
    CHECK(plant.zone_degC(zone) == doctest::Approx(mean_degC).epsilon(1e-6));
}

TEST_CASE("conduction alone brings neighbours together with one time constant") {
  // C1 C2 / (G (C1 + C2)), as for two bodies.
  ThermalPlant plant({plain_zone(20.0, 600.0), plain_zone(5.0, 100.0)}, {}, {{0, 1, 10.0, 0.0, 1.0}});
  const double time_constant_s = 10'000.0 * 2500.0 / 12'500.0 / 10.0;
  for (int second = 1; second <= 1000; ++second) {
    plant.advance(1s, {});
    REQUIRE(std::abs(plant.zone_degC(0) - plant.zone_degC(1) - 500.0 * std::exp(-second / time_constant_s)) <=
            1e-5);
  }
}

TEST_CASE("two equal neighbours that are treated alike stay alike") {
  ZoneParameters zone = plain_zone(30.0, 20.0);
  zone.wall = kiln_wall();
  const ElementParameters element{0, 900.0, 20.0, 0.3, 0.7};
  ElementParameters other = element;
  other.zone = 1;
  ThermalPlant pair({zone, zone}, {element, other}, {{0, 1, 40.0, 0.2, 1.0}});
  ThermalPlant alone({zone}, {element});
  for (int minute = 0; minute < 60; ++minute) {
    const double power_W = minute % 3 == 0 ? 0.0 : 20'000.0;
    pair.advance(1min, {power_W, power_W});
    alone.advance(1min, {power_W});
    CHECK(pair.zone_degC(0) == doctest::Approx(pair.zone_degC(1)).epsilon(1e-12));
    CHECK(pair.zone_degC(0) == doctest::Approx(alone.zone_degC(0)).epsilon(1e-7));
  }
  CHECK(pair.zone_degC(0) > 200.0);
}

TEST_CASE("a zone without neighbours does not depend on what the others do") {
  ZoneParameters zone = plain_zone(30.0, 20.0);
  zone.wall = kiln_wall();
  ThermalPlant two({zone, zone}, {{0, 900.0, 20.0, 0.3, 0.7}, {1, 0.0, 0.0}});
  ThermalPlant one({zone}, {{0, 900.0, 20.0, 0.3, 0.7}});
  for (int step = 0; step < 3000; ++step) {
    two.advance(100ms, {9000.0, step % 2 == 0 ? 1e5 : 0.0});
    one.advance(100ms, {9000.0});
  }
  CHECK(two.zone_degC(0) == one.zone_degC(0));
  CHECK(two.element_degC(0) == one.element_degC(0));
}

TEST_CASE("eight hours of burst firing, radiation, walls and a neighbour balance") {
  ZoneParameters hot = plain_zone(120.0, 20.0);
  hot.loss_W_per_K = 5.0;
  hot.wall = kiln_wall();
  hot.sensor_lag = 8s;
  hot.sensor_dead_time = 2s;
  ZoneParameters cool = plain_zone(60.0, 20.0);
  cool.loss_W_per_K = 15.0;
  ThermalPlant plant({hot, cool}, {{0, 6000.0, 15.0, 0.5, 0.8}, {1, 0.0, 0.0}}, {{0, 1, 8.0, 0.1, 0.9}});
  double given_J = 0.0;
  double lost_J = 0.0;  // through what needs no wall, by the trapezoidal rule
  const auto loss_W = [&] { return 5.0 * (plant.zone_degC(0) - 20.0) + 15.0 * (plant.zone_degC(1) - 20.0); };
  double before_W = loss_W();
  for (int step = 0; step < 8 * 7200; ++step) {
    // A controller of sorts: bursts at two duties, a drift with the element's temperature, a pause.
    const double resistance = 1.0 + 1e-4 * (plant.element_degC(0) - 20.0);
    const bool on = step % 10 < (plant.measured_degC(0) < 700.0 ? 8 : 3) && step % 7200 > 600;
    const std::vector<double> power_W{on ? 22'000.0 / resistance : 0.3, 700.0 + step % 7 * 1e-4};
    plant.advance(500ms, power_W);
    given_J += 0.5 * (power_W[0] + power_W[1]);
    const double now_W = loss_W();
    lost_J += 0.25 * (before_W + now_W);
    before_W = now_W;
    if (step % 1800 == 0)
      REQUIRE(std::abs(plant.given_J() - plant.stored_J() - plant.lost_J()) <= 1e-9 * given_J + 1e-3);
  }
  CHECK(plant.zone_degC(0) > 400.0);
  CHECK(plant.given_J() == doctest::Approx(given_J).epsilon(1e-12));
  CHECK(std::abs(plant.given_J() - plant.stored_J() - plant.lost_J()) <= 1e-9 * given_J);
  CHECK(plant.lost_J() > lost_J);  // the wall's share
  // Stored, counted again outside: all but the wall.
  const double bodies_J = 60'000.0 * (plant.zone_degC(0) - 20.0) + 30'000.0 * (plant.zone_degC(1) - 20.0) +
                          6000.0 * (plant.element_degC(0) - 20.0);
  CHECK(plant.stored_J() > bodies_J);
}

TEST_CASE("the counters agree with what is counted outside when no wall holds heat back") {
  ZoneParameters hot = plain_zone(120.0, 20.0);
  hot.loss_W_per_K = 5.0;
  ZoneParameters cool = plain_zone(60.0, 40.0);
  cool.loss_W_per_K = 15.0;
  ThermalPlant plant({hot, cool}, {{0, 6000.0, 15.0, 0.5, 0.8}, {std::nullopt, 0.0, 0.0}},
                     {{0, 1, 8.0, 0.1, 0.9}});
  double lost_J = 0.0;
  const auto loss_W = [&] { return 5.0 * (plant.zone_degC(0) - 20.0) + 15.0 * (plant.zone_degC(1) - 20.0); };
  for (int step = 0; step < 36'000; ++step) {
    const double before_W = loss_W();
    plant.advance(100ms, {step % 100 < 30 ? 20'000.0 : 0.0, 1e6});
    lost_J += 0.05 * (before_W + loss_W());
  }
  const double bodies_J = 60'000.0 * (plant.zone_degC(0) - 20.0) + 30'000.0 * (plant.zone_degC(1) - 40.0) +
                          6000.0 * (plant.element_degC(0) - 20.0);
  CHECK(plant.given_J() == doctest::Approx(3600.0 * 0.3 * 20'000.0).epsilon(1e-9));
  CHECK(plant.stored_J() == doctest::Approx(bodies_J).epsilon(1e-9));
  CHECK(plant.lost_J() == doctest::Approx(lost_J).epsilon(1e-6));
}

TEST_CASE("no temperature leaves the range of what drives it, and energy balances, in any plant") {
  std::mt19937 random(20'240'611);
  const auto between = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
  };
  const auto log_between = [&](double low, double high) {
    return std::exp(between(std::log(low), std::log(high)));
  };
  for (int trial = 0; trial < 40; ++trial) {
    CAPTURE(trial);
    std::vector<ZoneParameters> zones(1 + random() % 4);
    std::vector<ElementParameters> elements;
    std::vector<NeighbourParameters> neighbours;
    double lowest_degC = 1e9;
    double highest_degC = -1e9;
    for (std::size_t i = 0; i < zones.size(); ++i) {
      auto& zone = zones[i];
      zone.mass_kg = log_between(0.5, 500.0);
      zone.specific_heat_J_per_kgK = between(200.0, 4200.0);
      zone.loss_W_per_K = random() % 3 == 0 ? 0.0 : log_between(0.1, 100.0);
      zone.ambient_degC = between(-30.0, 60.0);
      zone.start_degC = between(-30.0, 1200.0);
      lowest_degC = std::min({lowest_degC, zone.ambient_degC, zone.start_degC});
      highest_degC = std::max({highest_degC, zone.ambient_degC, zone.start_degC});
      if (random() % 3 != 0) {
        zone.wall = WallParameters{between(0.1, 20.0), log_between(3.0, 300.0), log_between(3.0, 300.0), {}};
        for (std::size_t layers = 1 + random() % 4; layers > 0; --layers)
          zone.wall->layers.push_back({log_between(1e-4, 0.4), log_between(0.02, 200.0),
                                       log_between(1.2, 8000.0), between(400.0, 4200.0)});
      }
      elements.push_back({i, log_between(10.0, 1e4), random() % 2 == 0 ? 0.0 : log_between(0.1, 200.0),
                          log_between(0.01, 2.0), between(0.1, 1.0)});
      if (i > 0 && random() % 3 != 0)
        neighbours.push_back({i, random() % i, log_between(0.1, 50.0), between(0.0, 1.0), between(0.1, 1.0)});
    }
    ThermalPlant plant(zones, elements, neighbours);
    const auto all_within = [&](double low_degC, double high_degC) {
      const auto inside = [&](double value) { return value >= low_degC && value <= high_degC; };
      for (std::size_t i = 0; i < zones.size(); ++i) {
        if (!inside(plant.zone_degC(i)) || !inside(plant.element_degC(i)) || !inside(plant.measured_degC(i)))
          return false;
        if (!zones[i].wall) continue;
        for (int part = 0; part <= 10; ++part)
          if (!inside(plant.wall_degC(i, 0.05 * part))) return false;
      }
      return true;
    };
    // Without power nothing gets warmer than what is warmest, or colder than what is coldest.
    std::vector<double> power_W(elements.size(), 0.0);
    for (int step = 0; step < 300; ++step) {
      plant.advance(std::chrono::milliseconds(1 + random() % 3000), power_W);
      REQUIRE(all_within(lowest_degC - 1e-4, highest_degC + 1e-4));
      REQUIRE(balances(plant));
    }
    // With power nothing gets colder than that.
    for (int step = 0; step < 300; ++step) {
      if (random() % 4 == 0)
        for (auto& own : power_W) own = random() % 3 == 0 ? 0.0 : log_between(10.0, 3e4);
      plant.advance(std::chrono::milliseconds(1 + random() % 3000), power_W);
      REQUIRE(all_within(lowest_degC - 1e-4, 1e5));
      REQUIRE(balances(plant));
    }
  }
}
