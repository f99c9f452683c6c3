// The same furnaces solved by SUNDIALS' CVODE (Hindmarsh et al., ACM Trans. Math. Softw. 31, 363 (2005)).
#include <algorithm>
#include <chrono>
#include <cmath>
#include <map>
#include <numbers>
#include <string>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/thermal/thermal_plant.hpp"
#include "tests/interop/heat_cvode/reference.hpp"

using namespace emberline;
using namespace std::chrono_literals;

namespace {

using tests::Reference;

constexpr double kPart = 1e-3;        ///< of the rise, that may lie between the two
constexpr double kLook_s = 60.0;      ///< temperatures are compared, and powers switched, that often
constexpr int kCallsPerLook = 600;    ///< of 100 ms
constexpr int kLooksBeforeFirst = 5;  ///< as many minutes go by before the first comparison

plant::ThermalPlant plant_of(const std::vector<Reference::Chamber>& chambers,
                             const Reference::Opening& opening) {
  std::vector<plant::ZoneParameters> zones;
  std::vector<plant::ElementParameters> elements;
  for (const auto& chamber : chambers) {
    plant::ZoneParameters zone;
    zone.mass_kg = chamber.heat_capacity_J_per_K / 1000.0;
    zone.specific_heat_J_per_kgK = 1000.0;
    zone.loss_W_per_K = chamber.loss_W_per_K;
    zone.ambient_degC = chamber.ambient_degC;
    zone.start_degC = chamber.start_degC;
    if (!chamber.layers.empty()) {
      zone.wall = plant::WallParameters{chamber.wall_m2, chamber.inside_film, chamber.outside_film, {}};
      for (const auto& layer : chamber.layers)
        zone.wall->layers.push_back(
            {layer.thickness_m, layer.conductivity, layer.density, layer.specific_heat});
    }
    elements.push_back({zones.size(), chamber.element_J_per_K, chamber.element_W_per_K, chamber.element_m2,
                        chamber.element_emissivity});
    zones.push_back(zone);
  }
  std::vector<plant::NeighbourParameters> neighbours;
  if (chambers.size() > 1) neighbours.push_back({0, 1, opening.W_per_K, opening.m2, opening.emissivity});
  return {zones, elements, neighbours};
}

/// Every temperature that can be seen, with a name: from the plant, from the reference.
std::map<std::string, std::pair<double, double>> temperatures(const std::vector<Reference::Chamber>& chambers,
                                                              const plant::ThermalPlant& plant,
                                                              const Reference& reference) {
  std::map<std::string, std::pair<double, double>> seen;
  for (std::size_t i = 0; i < chambers.size(); ++i) {
    const std::string name = std::to_string(i + 1) + ' ';
    seen[name + "zone"] = {plant.zone_degC(i), reference.zone_degC(i)};
    seen[name + "element"] = {plant.element_degC(i), reference.element_degC(i)};
    double depth_m = 0.0;
    for (std::size_t face = 0; face <= chambers[i].layers.size() && !chambers[i].layers.empty(); ++face) {
      seen[name + "wall at " + std::to_string(depth_m) + " m"] = {plant.wall_degC(i, depth_m),
                                                                  reference.face_degC(i, face)};
      if (face < chambers[i].layers.size()) depth_m += chambers[i].layers[face].thickness_m;
    }
  }
  return seen;
}

/// Whose rise a temperature is held against: its own, in a wall that of the zone before it.
std::string driver_of(const std::string& name) {
  return name.find("wall") == std::string::npos ? name : name.substr(0, 2) + "zone";
}

/// Runs both for `minutes`. Every temperature agrees within kPart of the most that it, or what drives it, has
/// risen.
void compare(const std::vector<Reference::Chamber>& chambers, const Reference::Opening& opening,
             int minutes) {
  auto plant = plant_of(chambers, opening);
  Reference reference(chambers, opening);
  const auto start = temperatures(chambers, plant, reference);
  std::map<std::string, double> rise_K;
  std::map<std::string, std::pair<double, std::string>> worst;
  double given_J = 0.0;
  for (int minute = 1; minute <= minutes; ++minute) {
    for (int call = 0; call < kCallsPerLook; ++call) {
      const double middle_s = kLook_s * (minute - 1) + kLook_s * (call + 0.5) / kCallsPerLook;
      std::vector<double> power_W;
      for (const auto& chamber : chambers) {
        power_W.push_back(chamber.power_W(middle_s));
        given_J += power_W.back() * kLook_s / kCallsPerLook;
      }
      plant.advance(100ms, power_W);
    }
    reference.advance_to(kLook_s * minute);
    const auto now = temperatures(chambers, plant, reference);
    for (const auto& [name, values] : now)
      rise_K[name] = std::max(rise_K[name], std::abs(values.second - start.at(name).second));
    for (const auto& [name, values] : now) {
      const auto [ours_degC, theirs_degC] = values;
      REQUIRE(std::isfinite(ours_degC));
      const double rise = rise_K.at(driver_of(name));
      if (minute < kLooksBeforeFirst || rise < 1.0) continue;
      auto& [part, at] = worst[name.substr(2, name.find(' ', 2) - 2)];
      if (std::abs(ours_degC - theirs_degC) > part * rise) {
        part = std::abs(ours_degC - theirs_degC) / rise;
        at = name + " after " + std::to_string(minute) + " min";
      }
      CAPTURE(name);
      CAPTURE(minute);
      CAPTURE(theirs_degC);
      CHECK(std::abs(ours_degC - theirs_degC) <= kPart * rise);
    }
  }
  const double lost_J = given_J - reference.stored_J();
  CHECK(plant.given_J() == doctest::Approx(given_J).epsilon(1e-9));
  CHECK(std::abs(plant.stored_J() - reference.stored_J()) <= kPart * given_J);
  CHECK(std::abs(plant.lost_J() - lost_J) <= kPart * given_J);
  for (const auto& [kind, found] : worst)
    MESSAGE(kind << ": " << 100.0 * found.first << " % of the rise at most, " << found.second);
}

double wave(double time_s, double period_s) { return std::sin(2.0 * std::numbers::pi * time_s / period_s); }
int minute_of(double time_s) { return static_cast<int>(time_s / kLook_s); }

}  // namespace

TEST_CASE("a kiln with a wall of three layers goes as CVODE has it") {
  Reference::Chamber kiln{.heat_capacity_J_per_K = 90e3,
                          .loss_W_per_K = 6.0,
                          .ambient_degC = 25.0,
                          .start_degC = 25.0,
                          .element_J_per_K = 9e3,
                          .element_W_per_K = 20.0,
                          .element_m2 = 0.6,
                          .element_emissivity = 0.8};
  kiln.wall_m2 = 6.0;
  kiln.inside_film = 25.0;
  kiln.outside_film = 9.0;
  kiln.layers = {
      {0.115, 1.2, 2000.0, 900.0, 400}, {0.115, 0.25, 800.0, 1000.0, 150}, {0.004, 50.0, 7850.0, 480.0, 6}};
  kiln.power_W = [](double time_s) {
    return minute_of(time_s) % 30 < 22 ? 18'000.0 * (1.0 + 0.4 * wave(time_s, 400.0)) : 500.0;
  };
  compare({kiln}, {}, 360);
}

TEST_CASE("a hot kiln with fibre inside, cooling and heated again, goes as CVODE has it") {
  Reference::Chamber kiln{.heat_capacity_J_per_K = 40e3,
                          .loss_W_per_K = 0.0,
                          .ambient_degC = 20.0,
                          .start_degC = 900.0,
                          .element_J_per_K = 3e3,
                          .element_W_per_K = 0.0,
                          .element_m2 = 0.9,
                          .element_emissivity = 0.7};
  kiln.wall_m2 = 3.0;
  kiln.inside_film = 60.0;
  kiln.outside_film = 12.0;
  kiln.layers = {
      {0.05, 0.2, 130.0, 1000.0, 300}, {0.115, 1.0, 1900.0, 880.0, 200}, {0.003, 50.0, 7850.0, 480.0, 5}};
  kiln.power_W = [](double time_s) {
    return minute_of(time_s) < 60 ? 0.0 : 9000.0 * (1.0 + 0.5 * wave(time_s, 90.0));
  };
  compare({kiln}, {}, 240);
}

TEST_CASE("an oven of lamps beside a passive chamber goes as CVODE has it") {
  // Light elements far hotter than what they heat; both chambers see each other.
  Reference::Chamber lamps{.heat_capacity_J_per_K = 15e3,
                           .loss_W_per_K = 12.0,
                           .ambient_degC = 20.0,
                           .start_degC = 20.0,
                           .element_J_per_K = 40.0,
                           .element_W_per_K = 0.05,
                           .element_m2 = 0.02,
                           .element_emissivity = 0.35};
  lamps.wall_m2 = 4.0;
  lamps.inside_film = 10.0;
  lamps.outside_film = 8.0;
  lamps.layers = {
      {0.001, 15.0, 7850.0, 480.0, 4}, {0.08, 0.045, 90.0, 840.0, 300}, {0.001, 50.0, 7850.0, 480.0, 4}};
  lamps.power_W = [](double time_s) {
    return minute_of(time_s) % 7 < 4 ? 5000.0 * (1.0 + 0.3 * wave(time_s, 35.0)) : 200.0;
  };
  Reference::Chamber passive{.heat_capacity_J_per_K = 30e3,
                             .loss_W_per_K = 9.0,
                             .ambient_degC = 20.0,
                             .start_degC = 60.0,
                             .element_J_per_K = 500.0,
                             .element_W_per_K = 8.0,
                             .element_m2 = 0.05,
                             .element_emissivity = 0.9};
  passive.power_W = [](double) { return 0.0; };
  compare({lamps, passive}, {15.0, 0.5, 0.9}, 180);
}

TEST_CASE("two chambers with walls that heat each other go as CVODE has it") {
  Reference::Chamber first{.heat_capacity_J_per_K = 60e3,
                           .loss_W_per_K = 4.0,
                           .ambient_degC = 25.0,
                           .start_degC = 300.0,
                           .element_J_per_K = 6e3,
                           .element_W_per_K = 30.0,
                           .element_m2 = 0.4,
                           .element_emissivity = 0.8};
  first.wall_m2 = 5.0;
  first.inside_film = 18.0;
  first.outside_film = 9.0;
  first.layers = {{0.23, 1.3, 2100.0, 950.0, 500}, {0.1, 0.1, 150.0, 1000.0, 150}};
  first.power_W = [](double time_s) { return 15'000.0 * (1.0 + 0.9 * wave(time_s, 600.0)); };
  Reference::Chamber second{.heat_capacity_J_per_K = 200e3,
                            .loss_W_per_K = 0.0,
                            .ambient_degC = 10.0,
                            .start_degC = 120.0,
                            .element_J_per_K = 1500.0,
                            .element_W_per_K = 12.0,
                            .element_m2 = 0.0,
                            .element_emissivity = 0.0};
  second.wall_m2 = 9.0;
  second.inside_film = 500.0;  // water against steel
  second.outside_film = 8.0;
  second.layers = {{0.002, 15.0, 7900.0, 500.0, 4}, {0.06, 0.035, 40.0, 1400.0, 250}};
  second.power_W = [](double time_s) { return minute_of(time_s) % 10 < 3 ? 6000.0 : 0.0; };
  compare({first, second}, {20.0, 0.4, 1.0}, 300);
}
