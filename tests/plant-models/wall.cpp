#include "plant-models/thermal/wall.hpp"

#include <cmath>
#include <numeric>
#include <vector>

#include <doctest/doctest.h>

using namespace emberline::plant;

namespace {

constexpr WallLayer kFirebrick{0.23, 1.2, 2000.0, 900.0};
constexpr WallLayer kFibre{0.025, 0.2, 130.0, 1000.0};
constexpr WallLayer kSheet{0.003, 50.0, 7850.0, 480.0};
constexpr WallLayer kFoil{0.0001, 200.0, 2700.0, 900.0};

WallParameters wall_of(std::vector<WallLayer> layers) {
  WallParameters parameters;
  parameters.area_m2 = 2.5;
  parameters.inside_film_W_per_m2K = 20.0;
  parameters.outside_film_W_per_m2K = 8.0;
  parameters.layers = std::move(layers);
  return parameters;
}

double resistance_K_per_W(const WallParameters& parameters) {
  double sum = 1.0 / parameters.inside_film_W_per_m2K + 1.0 / parameters.outside_film_W_per_m2K;
  for (const auto& layer : parameters.layers) sum += layer.thickness_m / layer.conductivity_W_per_mK;
  return sum / parameters.area_m2;
}

double heat_capacity_J_per_K(const WallParameters& parameters) {
  double sum = 0.0;
  for (const auto& layer : parameters.layers)
    sum += layer.thickness_m * layer.density_kg_per_m3 * layer.specific_heat_J_per_kgK;
  return sum * parameters.area_m2;
}

/// 1/s: how quickly the quickest cell answers.
double quickest(const Wall& wall) {
  double most = 0.0;
  for (std::size_t i = 0; i < wall.cells(); ++i)
    most = std::max(most, (wall.conductance_W_per_K()[i] + wall.conductance_W_per_K()[i + 1]) /
                              wall.heat_capacity_J_per_K()[i]);
  return most;
}

const std::vector<WallParameters>& many_walls() {
  static const std::vector<WallParameters> walls{
      wall_of({kFirebrick}),
      wall_of({kSheet}),
      wall_of({kFoil}),
      wall_of({kFibre, kFirebrick, kSheet}),
      wall_of({kSheet, kFibre, kSheet}),
      wall_of({kFoil, kSheet, kFoil, kFoil, kSheet}),
      wall_of({kFirebrick, kFoil, kFirebrick}),
      wall_of({{5.0, 0.03, 1500.0, 2000.0}}),
      wall_of({{0.02, 0.025, 1.2, 1000.0}, kFirebrick}),
  };
  return walls;
}

}  // namespace

TEST_CASE("cutting a wall into cells loses neither resistance nor heat capacity") {
  for (const auto& parameters : many_walls()) {
    const Wall wall(parameters);
    CAPTURE(wall.cells());
    REQUIRE(wall.cells() >= 1);
    REQUIRE(wall.conductance_W_per_K().size() == wall.cells() + 1);
    double resistance = 0.0;
    for (const double conductance : wall.conductance_W_per_K()) {
      REQUIRE(conductance > 0.0);
      resistance += 1.0 / conductance;
    }
    CHECK(resistance == doctest::Approx(resistance_K_per_W(parameters)).epsilon(1e-12));
    double capacity = 0.0;
    for (const double own : wall.heat_capacity_J_per_K()) {
      REQUIRE(own > 0.0);
      capacity += own;
    }
    CHECK(capacity == doctest::Approx(heat_capacity_J_per_K(parameters)).epsilon(1e-12));
  }
}

TEST_CASE("a wall never has so many or so quick cells that the integration crawls") {
  for (const auto& parameters : many_walls()) {
    const Wall wall(parameters);
    CHECK(wall.cells() <= 80);
    CHECK(quickest(wall) <= 1.0 / 0.5 + 1e-9);
  }
  CHECK(Wall(wall_of({kSheet})).cells() == 1);
  // Sheets against each other are one body, sheets with fibre between them two and the fibre.
  CHECK(Wall(wall_of({kFoil, kSheet, kFoil, kFoil, kSheet})).cells() <= 2);
  CHECK(Wall(wall_of({kSheet, kFibre, kSheet})).cells() >= 5);
}

TEST_CASE("in steady state every depth of a wall has the temperature of its resistances") {
  for (const auto& parameters : many_walls()) {
    const Wall wall(parameters);
    const auto cells = wall.steady_degC(900.0, 25.0);
    const double heat_W = 875.0 / resistance_K_per_W(parameters);
    double expected_degC = 900.0 - heat_W / (parameters.inside_film_W_per_m2K * parameters.area_m2);
    double depth_m = 0.0;
    CHECK(wall.temperature_degC(0.0, 900.0, cells, 25.0) == doctest::Approx(expected_degC).epsilon(1e-9));
    for (const auto& layer : parameters.layers) {
      const double drop_K = heat_W * layer.thickness_m / (layer.conductivity_W_per_mK * parameters.area_m2);
      for (const double part : {0.1, 0.5, 0.77, 1.0})
        CHECK(wall.temperature_degC(depth_m + part * layer.thickness_m, 900.0, cells, 25.0) ==
              doctest::Approx(expected_degC - part * drop_K).epsilon(1e-9));
      expected_degC -= drop_K;
      depth_m += layer.thickness_m;
    }
    // What lies beyond a face is taken as the face.
    CHECK(wall.temperature_degC(-1.0, 900.0, cells, 25.0) == wall.temperature_degC(0.0, 900.0, cells, 25.0));
    CHECK(wall.temperature_degC(99.0, 900.0, cells, 25.0) ==
          wall.temperature_degC(depth_m, 900.0, cells, 25.0));
  }
}

TEST_CASE("wall parameters that cannot be are refused in one line each") {
  CHECK(Wall::problems(wall_of({kFirebrick})).empty());
  auto none = Wall::problems(wall_of({}));
  REQUIRE(none.size() == 1);
  CHECK(none[0] == "wall layers: given 0, expected one or more");
  WallParameters wrong = wall_of({kFirebrick, {0.0, -1.0, std::nan(""), 900.0}});
  wrong.area_m2 = 0.0;
  wrong.outside_film_W_per_m2K = -8.0;
  const auto found = Wall::problems(wrong);
  REQUIRE(found.size() == 5);
  CHECK(found[0] == "wall area: given 0 m2, expected a value above 0 m2");
  CHECK(found[1] == "wall outside_film: given -8 W/m2K, expected a value above 0 W/m2K");
  CHECK(found[2] == "wall layer 2 thickness: given 0 m, expected a value above 0 m");
  CHECK(found[3] == "wall layer 2 conductivity: given -1 W/mK, expected a value above 0 W/mK");
}
