#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstddef>
#include <sstream>
#include <string>
#include <string_view>
#include <vector>

#include "plant-models/thermal/radiation.hpp"
#include "plant-models/thermal/thermal_plant.hpp"

namespace emberline::plant {
namespace {

constexpr double kAbsoluteZero_degC = -273.15;
constexpr double kShortestTimeConstant_s = 0.01;
/// Where a radiating element's time constant is looked at: none that heats a zone is quicker than it is
/// there.
constexpr double kHot_K = 1500.0;

/// "WHAT: given GIVEN UNIT, expected EXPECTED".
std::string complaint(std::string_view what, double given, std::string_view unit, std::string_view expected) {
  std::ostringstream text;
  text << what << ": given " << given << ' ' << unit << ", expected " << expected;
  return text.str();
}

std::string complaint(std::string_view what, std::size_t given, std::string_view expected) {
  std::ostringstream text;
  text << what << ": given " << given << ", expected " << expected;
  return text.str();
}

bool above_zero(double value) { return std::isfinite(value) && value > 0.0; }
bool not_negative(double value) { return std::isfinite(value) && value >= 0.0; }

void demand_temperature(std::vector<std::string>& found, std::string_view what, double value_degC) {
  if (!(std::isfinite(value_degC) && value_degC >= kAbsoluteZero_degC))
    found.push_back(complaint(what, value_degC, "degC", "-273.15 degC or more"));
}

void demand_time(std::vector<std::string>& found, std::string_view what, std::chrono::nanoseconds time) {
  if (time.count() < 0)
    found.push_back(complaint(what, static_cast<double>(time.count()) * 1e-9, "s", "0 s or more"));
}

void demand_above_zero(std::vector<std::string>& found, std::string_view what, double value,
                       std::string_view unit) {
  if (!above_zero(value))
    found.push_back(complaint(what, value, unit, "a value above 0 " + std::string(unit)));
}

void demand_not_negative(std::vector<std::string>& found, std::string_view what, double value,
                         std::string_view unit) {
  if (!not_negative(value))
    found.push_back(complaint(what, value, unit, "0 " + std::string(unit) + " or more"));
}

void demand_emissivity(std::vector<std::string>& found, double value) {
  if (not_negative(value) && value <= 1.0) return;
  std::ostringstream text;
  text << "emissivity: given " << value << ", expected 0 to 1";
  found.push_back(text.str());
}

}  // namespace

std::vector<std::string> Wall::problems(const WallParameters& parameters) {
  std::vector<std::string> found;
  demand_above_zero(found, "wall area", parameters.area_m2, "m2");
  demand_above_zero(found, "wall inside_film", parameters.inside_film_W_per_m2K, "W/m2K");
  demand_above_zero(found, "wall outside_film", parameters.outside_film_W_per_m2K, "W/m2K");
  if (parameters.layers.empty()) found.push_back(complaint("wall layers", 0, "one or more"));
  for (std::size_t i = 0; i < parameters.layers.size(); ++i) {
    const auto& layer = parameters.layers[i];
    const std::string name = "wall layer " + std::to_string(i + 1) + ' ';
    demand_above_zero(found, name + "thickness", layer.thickness_m, "m");
    demand_above_zero(found, name + "conductivity", layer.conductivity_W_per_mK, "W/mK");
    demand_above_zero(found, name + "density", layer.density_kg_per_m3, "kg/m3");
    demand_above_zero(found, name + "specific_heat", layer.specific_heat_J_per_kgK, "J/kgK");
  }
  return found;
}

std::vector<std::string> ThermalPlant::problems(const ZoneParameters& zone) {
  std::vector<std::string> found;
  demand_above_zero(found, "mass", zone.mass_kg, "kg");
  demand_above_zero(found, "specific_heat", zone.specific_heat_J_per_kgK, "J/kgK");
  demand_not_negative(found, "loss", zone.loss_W_per_K, "W/K");
  demand_temperature(found, "ambient", zone.ambient_degC);
  demand_temperature(found, "start", zone.start_degC);
  demand_time(found, "sensor lag", zone.sensor_lag);
  demand_time(found, "sensor dead_time", zone.sensor_dead_time);
  if (zone.wall) {
    const auto of_wall = Wall::problems(*zone.wall);
    found.insert(found.end(), of_wall.begin(), of_wall.end());
  }
  if (!found.empty()) return found;
  const double film_W_per_K = zone.wall ? zone.wall->inside_film_W_per_m2K * zone.wall->area_m2 : 0.0;
  const double time_constant_s =
      zone.mass_kg * zone.specific_heat_J_per_kgK / (zone.loss_W_per_K + film_W_per_K);
  if (time_constant_s < kShortestTimeConstant_s)
    found.push_back(complaint(zone.wall
                                  ? "time constant mass x specific_heat / (loss + wall area x inside_film)"
                                  : "time constant mass x specific_heat / loss",
                              time_constant_s, "s", "0.01 s or more (check the units)"));
  return found;
}

std::vector<std::string> ThermalPlant::problems(const ElementParameters& element) {
  std::vector<std::string> found;
  demand_not_negative(found, "heat_capacity", element.heat_capacity_J_per_K, "J/K");
  demand_not_negative(found, "coupling", element.coupling_W_per_K, "W/K");
  demand_not_negative(found, "radiating_area", element.radiating_area_m2, "m2");
  demand_emissivity(found, element.emissivity);
  if (!found.empty()) return found;
  const double radiance_W_per_K4 =
      element.emissivity * kStefanBoltzmann_W_per_m2K4 * element.radiating_area_m2;
  if (element.heat_capacity_J_per_K == 0.0) {
    if (radiance_W_per_K4 > 0.0)
      found.push_back(complaint("radiating_area", element.radiating_area_m2, "m2",
                                "a heat_capacity beside it: without one an element is as warm as its zone"));
    return found;
  }
  if (element.coupling_W_per_K == 0.0 && radiance_W_per_K4 == 0.0) {
    found.push_back(complaint(
        "coupling", element.coupling_W_per_K, "W/K",
        "a value above 0 W/K, or radiating_area and emissivity, as the element has a heat_capacity"));
    return found;
  }
  const double hot_W_per_K = 4.0 * radiance_W_per_K4 * kHot_K * kHot_K * kHot_K;
  const double time_constant_s = element.heat_capacity_J_per_K / (element.coupling_W_per_K + hot_W_per_K);
  if (time_constant_s < kShortestTimeConstant_s)
    found.push_back(complaint(
        radiance_W_per_K4 > 0.0 ? "time constant heat_capacity / (coupling + radiation at 1500 K)"
                                : "time constant heat_capacity / coupling",
        time_constant_s, "s", "0.01 s or more, or no heat_capacity: then it follows its zone at once"));
  return found;
}

std::vector<std::string> ThermalPlant::problems(const NeighbourParameters& neighbour) {
  std::vector<std::string> found;
  demand_not_negative(found, "conductance", neighbour.conductance_W_per_K, "W/K");
  demand_not_negative(found, "opening", neighbour.opening_m2, "m2");
  demand_emissivity(found, neighbour.emissivity);
  if (neighbour.a == neighbour.b)
    found.emplace_back("between: given one zone twice, expected two different ones");
  if (found.empty() && neighbour.conductance_W_per_K == 0.0 &&
      neighbour.opening_m2 * neighbour.emissivity == 0.0)
    found.emplace_back("neighbours: given neither conductance nor opening, expected one of them above 0");
  return found;
}

std::vector<std::string> ThermalPlant::problems(const NeighbourParameters& neighbour, const ZoneParameters& a,
                                                const ZoneParameters& b) {
  auto found = problems(neighbour);
  if (!found.empty()) return found;
  const double smaller_J_per_K =
      std::min(a.mass_kg * a.specific_heat_J_per_kgK, b.mass_kg * b.specific_heat_J_per_kgK);
  const double radiance_W_per_K4 = neighbour.emissivity * kStefanBoltzmann_W_per_m2K4 * neighbour.opening_m2;
  const double time_constant_s =
      smaller_J_per_K / (neighbour.conductance_W_per_K + 4.0 * radiance_W_per_K4 * kHot_K * kHot_K * kHot_K);
  if (time_constant_s < kShortestTimeConstant_s)
    found.push_back(complaint("time constant of the smaller zone / (conductance + radiation at 1500 K)",
                              time_constant_s, "s", "0.01 s or more (check the units)"));
  return found;
}

}  // namespace emberline::plant
