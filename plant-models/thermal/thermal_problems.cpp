#include <chrono>
#include <cmath>
#include <sstream>
#include <string>
#include <string_view>
#include <vector>

#include "plant-models/thermal/thermal_plant.hpp"

namespace emberline::plant {
namespace {

constexpr double kAbsoluteZero_degC = -273.15;
constexpr double kShortestTimeConstant_s = 0.01;

/// "WHAT: given GIVEN UNIT, expected EXPECTED".
std::string complaint(std::string_view what, double given, std::string_view unit, std::string_view expected) {
  std::ostringstream text;
  text << what << ": given " << given << ' ' << unit << ", expected " << expected;
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

}  // namespace

std::vector<std::string> ThermalPlant::problems(const ZoneParameters& zone) {
  std::vector<std::string> found;
  if (!above_zero(zone.mass_kg)) found.push_back(complaint("mass", zone.mass_kg, "kg", "a value above 0 kg"));
  if (!above_zero(zone.specific_heat_J_per_kgK))
    found.push_back(
        complaint("specific_heat", zone.specific_heat_J_per_kgK, "J/kgK", "a value above 0 J/kgK"));
  if (!not_negative(zone.loss_W_per_K))
    found.push_back(complaint("loss", zone.loss_W_per_K, "W/K", "0 W/K or more"));
  demand_temperature(found, "ambient", zone.ambient_degC);
  demand_temperature(found, "start", zone.start_degC);
  demand_time(found, "sensor lag", zone.sensor_lag);
  demand_time(found, "sensor dead_time", zone.sensor_dead_time);
  if (found.empty() && zone.loss_W_per_K > 0.0) {
    const double time_constant_s = zone.mass_kg * zone.specific_heat_J_per_kgK / zone.loss_W_per_K;
    if (time_constant_s < kShortestTimeConstant_s)
      found.push_back(complaint("time constant mass x specific_heat / loss", time_constant_s, "s",
                                "0.01 s or more (check the units)"));
  }
  return found;
}

std::vector<std::string> ThermalPlant::problems(const ElementParameters& element) {
  std::vector<std::string> found;
  if (!not_negative(element.heat_capacity_J_per_K))
    found.push_back(complaint("heat_capacity", element.heat_capacity_J_per_K, "J/K", "0 J/K or more"));
  if (!not_negative(element.coupling_W_per_K))
    found.push_back(complaint("coupling", element.coupling_W_per_K, "W/K", "0 W/K or more"));
  if (!found.empty() || element.heat_capacity_J_per_K == 0.0) return found;
  if (element.coupling_W_per_K == 0.0) {
    found.push_back(complaint("coupling", element.coupling_W_per_K, "W/K",
                              "a value above 0 W/K, as the element has a heat_capacity"));
    return found;
  }
  const double time_constant_s = element.heat_capacity_J_per_K / element.coupling_W_per_K;
  if (time_constant_s < kShortestTimeConstant_s)
    found.push_back(complaint("time constant heat_capacity / coupling", time_constant_s, "s",
                              "0.01 s or more, or no heat_capacity: then it follows its zone at once"));
  return found;
}

}  // namespace emberline::plant
