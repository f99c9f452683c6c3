// Walls held against the continuous wall: closed forms and textbook examples of heat conduction.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <functional>
#include <numbers>

#include <doctest/doctest.h>

#include "plant-models/thermal/thermal_plant.hpp"

using namespace emberline::plant;
using namespace std::chrono_literals;

namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kBarelyAnyFilm = 1e-9;
constexpr double kFirmFilm = 1e6;

/// A zone that nothing cools, behind a wall.
ZoneParameters vast_zone(const WallParameters& wall, double start_degC, double ambient_degC) {
  ZoneParameters zone;
  zone.mass_kg = 1e9;
  zone.specific_heat_J_per_kgK = 1000.0;
  zone.start_degC = start_degC;
  zone.ambient_degC = ambient_degC;
  zone.wall = wall;
  return zone;
}

/// The same after its temperature has jumped by `rise_K` in a microsecond; the wall is as before.
ThermalPlant jumped(const WallParameters& wall, double start_degC, double rise_K) {
  ThermalPlant plant({vast_zone(wall, start_degC, start_degC)}, {ElementParameters{0, 0.0, 0.0}});
  plant.advance(1us, {rise_K * 1e12 / 1e-6});
  return plant;
}

void wait(ThermalPlant& plant, double time_s, double power_W = 0.0) {
  plant.advance(std::chrono::nanoseconds(std::llround(time_s * 1e9)), {power_W});
}

WallParameters plane_wall(double thickness_m, double conductivity_W_per_mK, double heat_J_per_m3K,
                          double inside_film) {
  WallParameters wall;
  wall.inside_film_W_per_m2K = inside_film;
  wall.layers = {{thickness_m, conductivity_W_per_mK, heat_J_per_m3K / 1000.0, 1000.0}};
  return wall;
}

/// n-th root of zeta tan(zeta) = Bi, by bisection.
double root_of(double biot, int n) {
  double low = n * kPi;
  double high = low + 0.5 * kPi;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (middle * std::tan(middle) < biot ? low : high) = middle;
  }
  return low;
}

double weight_of(double zeta) { return 4.0 * std::sin(zeta) / (2.0 * zeta + std::sin(2.0 * zeta)); }

/// f(t) from its Laplace transform: Stehfest, Comm. ACM 13, 47 (1970), algorithm 368, with 14 terms; five
/// digits for what is as smooth as heat.
double from_laplace(double time, const std::function<double(double)>& transform) {
  constexpr int kTerms = 14;
  constexpr int kHalf = kTerms / 2;
  const auto factorial = [](int n) { return std::tgamma(n + 1.0); };
  double sum = 0.0;
  for (int i = 1; i <= kTerms; ++i) {
    double weight = 0.0;
    for (int k = (i + 1) / 2; k <= std::min(i, kHalf); ++k)
      weight +=
          std::pow(k, kHalf) * factorial(2 * k) /
          (factorial(kHalf - k) * factorial(k) * factorial(k - 1) * factorial(i - k) * factorial(2 * k - i));
    sum += ((kHalf + i) % 2 == 0 ? weight : -weight) * transform(i * std::numbers::ln2 / time);
  }
  return sum * std::numbers::ln2 / time;
}

/// Integral of the complementary error function from x to infinity.
double ierfc(double x) { return std::exp(-x * x) / std::sqrt(kPi) - x * std::erfc(x); }

}  // namespace

TEST_CASE("a wall in steady state passes the textbook heat") {
  struct Case {
    const char* source;
    double conductivity, thickness_m, area_m2, inside_degC, outside_degC, heat_W, tolerance_W;
  };
  const Case cases[] = {
      {"Incropera, Fundamentals of Heat and Mass Transfer, ex. 1.1 (from memory)", 1.7, 0.15, 0.6,
       1400 - 273.15, 1150 - 273.15, 1700, 0.01},
      {"Cengel, Heat Transfer: A Practical Approach, ex. 3-1", 0.9, 0.3, 15, 16, 2, 630, 0.01},
  };
  for (const auto& row : cases) {
    CAPTURE(row.source);
    WallParameters wall = plane_wall(row.thickness_m, row.conductivity, 2e6, kFirmFilm * 1e3);
    wall.area_m2 = row.area_m2;
    wall.outside_film_W_per_m2K = kFirmFilm * 1e3;
    ThermalPlant plant({vast_zone(wall, row.inside_degC, row.outside_degC)}, {});
    plant.advance(100s, {});
    CHECK(std::abs(plant.lost_J() / 100.0 - row.heat_W) <= row.tolerance_W);
  }
}

TEST_CASE("a composite wall passes the heat and has the interfaces of its resistances") {
  // Resistances in series: 0.23/1.2 + 0.115/0.25 + 1/10 from 1000 to 25 degC: 1297.118 W/m2, 751.386 and
  // 154.712 degC, derived.
  WallParameters wall;
  wall.inside_film_W_per_m2K = kFirmFilm * 1e3;
  wall.outside_film_W_per_m2K = 10.0;
  wall.layers = {{0.23, 1.2, 2000.0, 900.0}, {0.115, 0.25, 800.0, 1000.0}};
  const auto check = [](const ThermalPlant& plant) {
    CHECK(std::abs(plant.wall_degC(0, 0.0) - 1000.0) <= 1e-3);
    CHECK(std::abs(plant.wall_degC(0, 0.23) - 751.386) <= 1e-3);
    CHECK(std::abs(plant.wall_degC(0, 0.345) - 154.712) <= 1e-3);
  };
  SUBCASE("from the start, and for ever") {
    ThermalPlant plant({vast_zone(wall, 1000.0, 25.0)}, {});
    check(plant);
    plant.advance(1h, {});
    check(plant);
    CHECK(std::abs(plant.lost_J() / 3600.0 - 1297.118) <= 1e-3);
  }
  SUBCASE("after it has warmed up from cold") {
    // Layers a hundred times lighter get there a hundred times sooner.
    for (auto& layer : wall.layers) layer.density_kg_per_m3 *= 0.01;
    auto plant = jumped(wall, 25.0, 975.0);
    wait(plant, 8000.0);
    check(plant);
    const double before_J = plant.lost_J();
    wait(plant, 100.0);
    CHECK(std::abs((plant.lost_J() - before_J) / 100.0 - 1297.118) <= 1e-2);
  }
}

TEST_CASE("heat goes into a thick wall as the error function has it") {
  // Semi-infinite wall, surface at a new temperature: 1 - erf(x / (2 sqrt(a t))) of the jump (Incropera,
  // ch. 5.7). erf at 0.25, 0.5, 1 and 2: 0.276326, 0.520500, 0.842701, 0.995322.
  constexpr struct {
    double eta, erf;
  } rows[] = {{0.25, 0.276326}, {0.5, 0.520500}, {1.0, 0.842701}, {2.0, 0.995322}};
  const double diffusivity = 1.2 / 1.8e6;
  auto plant = jumped(plane_wall(2.0, 1.2, 1.8e6, kFirmFilm), 20.0, 1000.0);
  double now_s = 0.0;
  for (const double time_s : {600.0, 1800.0, 3600.0, 14'400.0}) {
    wait(plant, time_s - now_s);
    now_s = time_s;
    const double reach_m = std::sqrt(diffusivity * time_s);
    for (const auto& row : rows) {
      CAPTURE(time_s);
      CAPTURE(row.eta);
      const double rise_K = plant.wall_degC(0, 2.0 * row.eta * reach_m) - 20.0;
      CHECK(std::abs(rise_K - 1000.0 * (1.0 - row.erf)) <= 1.0);  // 0.1 % of the jump
    }
    for (double depth_m = 0.0; depth_m <= 6.0 * reach_m; depth_m += 0.01 * reach_m)
      REQUIRE(std::abs(plant.wall_degC(0, depth_m) - 20.0 - 1000.0 * std::erfc(0.5 * depth_m / reach_m)) <=
              1.0);
  }
}

TEST_CASE("frost goes as deep into the ground as in the textbook example") {
  // Cengel, ex. 4-6: soil at 15 degC, 0.15e-6 m2/s, its surface at -10 degC for 90 days. 0 degC stands at
  // 0.778 m read from a chart, exactly (eta = 0.37081) at 0.8009 m. Here soil conducts and time passes 1000
  // times quicker.
  auto plant = jumped(plane_wall(5.0, 300.0, 2e6, kFirmFilm), 15.0, -25.0);
  wait(plant, 90.0 * 86'400.0 / 1000.0);
  double depth_m = 0.0;
  while (plant.wall_degC(0, depth_m) < 0.0) depth_m += 1e-4;
  CHECK(std::abs(depth_m - 0.778) <= 0.03);
  CHECK(std::abs(depth_m - 0.8009) <= 2e-3);
  CHECK(std::abs(plant.wall_degC(0, 0.8009)) <= 0.025);  // 0.1 % of the 25 K
}

TEST_CASE("a constant heat flow warms a thick wall's surface with the root of time") {
  // 2 q sqrt(a t / pi) / k: 398.942 K for 1e4 W/m2, k 1.2 W/mK, a 5e-7 m2/s, 3600 s; below it the integral of
  // the complementary error function (Incropera, ch. 5.7).
  ZoneParameters zone;
  zone.mass_kg = 2.0;
  zone.specific_heat_J_per_kgK = 1000.0;
  zone.wall = plane_wall(2.0, 1.2, 2.4e6, 1000.0);
  zone.wall->area_m2 = 100.0;
  ThermalPlant plant({zone}, {ElementParameters{0, 0.0, 0.0}});
  double now_s = 0.0;
  for (const double time_s : {600.0, 3600.0, 14'400.0}) {
    CAPTURE(time_s);
    wait(plant, time_s - now_s, 1e6);
    now_s = time_s;
    const double reach_m = std::sqrt(5e-7 * time_s);
    const double surface_K = 2e4 * reach_m / 1.2 / std::sqrt(kPi);
    CHECK(std::abs(plant.wall_degC(0, 0.0) - 20.0 - surface_K) <= 1e-3 * surface_K);
    for (double depth_m = 0.0; depth_m <= 6.0 * reach_m; depth_m += 0.01 * reach_m)
      REQUIRE(std::abs(plant.wall_degC(0, depth_m) - 20.0 -
                       2e4 * reach_m / 1.2 * ierfc(0.5 * depth_m / reach_m)) <= 1e-3 * surface_K);
    if (time_s == 3600.0) CHECK(std::abs(plant.wall_degC(0, 0.0) - 20.0 - 398.942) <= 0.399);
  }
}

TEST_CASE("a zone before a thick wall warms as its Laplace transform has it") {
  // Power P into a body C behind which a film h and a semi-infinite wall take heat:
  // T(s) = P/s / (C s + 1/(1/h + 1/sqrt(s k rho c))). From ten seconds on, where only the first cells count.
  struct Case {
    double conductivity, heat_J_per_m3K, film, zone_J_per_K, tolerance;
  };
  const Case cases[] = {
      {0.2, 130e3, 30.0, 2000.0, 4e-4}, {1.2, 1.8e6, 30.0, 2000.0, 2e-4}, {1.2, 1.8e6, 200.0, 5000.0, 1e-3}};
  for (const auto& row : cases) {
    CAPTURE(row.conductivity);
    CAPTURE(row.film);
    ZoneParameters zone;
    zone.mass_kg = row.zone_J_per_K / 1000.0;
    zone.specific_heat_J_per_kgK = 1000.0;
    zone.wall = plane_wall(3.0, row.conductivity, row.heat_J_per_m3K, row.film);
    ThermalPlant plant({zone}, {ElementParameters{0, 0.0, 0.0}});
    double now_s = 0.0;
    for (const double time_s : {10.0, 30.0, 60.0, 300.0, 1000.0, 3600.0}) {
      CAPTURE(time_s);
      wait(plant, time_s - now_s, 3000.0);
      now_s = time_s;
      const double rise_K = from_laplace(time_s, [&](double s) {
        const double wall = std::sqrt(s * row.conductivity * row.heat_J_per_m3K);
        return 3000.0 / s / (row.zone_J_per_K * s + 1.0 / (1.0 / row.film + 1.0 / wall));
      });
      CHECK(std::abs(plant.zone_degC(0) - 20.0 - rise_K) <= row.tolerance * rise_K);
    }
  }
}

TEST_CASE("a plane wall cools through its film as the series has it") {
  // One-term approximation: zeta tan(zeta) = Bi, C1 exp(-zeta^2 Fo) in the middle; the table every textbook
  // on heat transfer prints (Incropera, table 5.1), Fo 0.5 and 1 derived.
  constexpr struct {
    double biot, zeta, weight, middle_at_half, middle_at_one;
  } rows[] = {{0.1, .3111, 1.0161, .9681, .9224}, {0.5, .6533, 1.0701, .8645, .6984},
              {1, .8603, 1.1191, .7730, .5339},   {2, 1.0769, 1.1785, .6599, .3696},
              {5, 1.3138, 1.2402, .5232, .2207},  {10, 1.4289, 1.2620, .4547, .1638}};
  const double half_m = 0.06;
  const double diffusivity = 1.2 / 1.8e6;
  for (const auto& row : rows) {
    CAPTURE(row.biot);
    CHECK(std::abs(root_of(row.biot, 0) - row.zeta) <= 1e-4);
    CHECK(std::abs(weight_of(root_of(row.biot, 0)) - row.weight) <= 1e-4);
    WallParameters wall = plane_wall(half_m, 1.2, 1.8e6, row.biot * 1.2 / half_m);
    wall.outside_film_W_per_m2K = kBarelyAnyFilm;  // the middle plane, that no heat passes
    auto plant = jumped(wall, 1000.0, -1000.0);
    double now_s = 0.0;
    for (const double fourier : {0.1, 0.5, 1.0}) {
      CAPTURE(fourier);
      const double time_s = fourier * half_m * half_m / diffusivity;
      wait(plant, time_s - now_s);
      now_s = time_s;
      if (fourier == 0.5) CHECK(std::abs(plant.wall_degC(0, half_m) / 1000.0 - row.middle_at_half) <= 1e-3);
      if (fourier == 1.0) CHECK(std::abs(plant.wall_degC(0, half_m) / 1000.0 - row.middle_at_one) <= 1e-3);
      for (int part = 0; part <= 50; ++part) {  // all terms, everywhere
        double exact = 0.0;
        for (int n = 0; n < 30; ++n) {
          const double zeta = root_of(row.biot, n);
          exact += weight_of(zeta) * std::exp(-zeta * zeta * fourier) * std::cos(zeta * (1.0 - part / 50.0));
        }
        REQUIRE(std::abs(plant.wall_degC(0, half_m * part / 50.0) / 1000.0 - exact) <= 1e-3);
      }
    }
  }
}

TEST_CASE("below a Biot number of 0.1 a wall is nearly one temperature") {
  // The rule for lumped bodies (Incropera, ch. 5.2): surface and middle apart by less than about 5 %.
  for (const double biot : {0.02, 0.1}) {
    WallParameters wall = plane_wall(0.06, 1.2, 1.8e6, biot * 1.2 / 0.06);
    wall.outside_film_W_per_m2K = kBarelyAnyFilm;
    auto plant = jumped(wall, 1000.0, -1000.0);
    wait(plant, 5400.0);
    CHECK(plant.wall_degC(0, 0.0) / plant.wall_degC(0, 0.06) >= 0.95);
    CHECK(plant.wall_degC(0, 0.0) / plant.wall_degC(0, 0.06) < 1.0);
  }
}
