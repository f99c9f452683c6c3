#include <cmath>
#include <sstream>
#include <string>
#include <string_view>
#include <vector>

#include "plant-models/electrical/network.hpp"

namespace emberline::plant {
namespace {

/// "WHAT: given GIVEN UNIT, expected EXPECTED".
std::string complaint(std::string_view what, double given, std::string_view unit, std::string_view expected) {
  std::ostringstream text;
  text << what << ": given " << given << ' ' << unit << ", expected " << expected;
  return text.str();
}

void demand_above_zero(std::vector<std::string>& found, std::string_view what, double value,
                       std::string_view unit) {
  if (!(std::isfinite(value) && value > 0.0))
    found.push_back(complaint(what, value, unit, "a value above 0 " + std::string(unit)));
}

void demand_not_negative(std::vector<std::string>& found, std::string_view what, double value,
                         std::string_view unit) {
  if (!(std::isfinite(value) && value >= 0.0))
    found.push_back(complaint(what, value, unit, "0 " + std::string(unit) + " or more"));
}

std::string_view word(Connection connection) {
  switch (connection) {
    case Connection::star_4_wire:
      return "star-4-wire";
    case Connection::star_3_wire:
      return "star-3-wire";
    case Connection::delta:
      return "delta";
    case Connection::open_delta:
      return "open-delta";
    case Connection::single_phase:
      break;
  }
  return "single-phase";
}

}  // namespace

std::vector<std::string> Network::problems(const SupplyParameters& supply) {
  std::vector<std::string> found;
  demand_above_zero(found, "voltage", supply.voltage_V, "V");
  demand_above_zero(found, "frequency", supply.frequency_Hz, "Hz");
  demand_not_negative(found, "impedance", supply.resistance_ohm, "ohm");
  return found;
}

std::vector<std::string> Network::problems(const SupplyParameters& supply, const LoadParameters& load) {
  std::vector<std::string> found;
  const bool single_phase_load = load.connection == Connection::single_phase;
  if (supply.system == System::single_phase && !single_phase_load)
    found.push_back("connection: given " + std::string(word(load.connection)) +
                    " on a single-phase supply, expected no connection, or a three-phase supply");
  if (supply.system == System::three_phase && single_phase_load)
    found.emplace_back(
        "connection: given single-phase on a three-phase supply, expected star-4-wire or delta (single-phase "
        "loads on a three-phase supply come later)");
  if (load.elements < 1)
    found.push_back("elements: given " + std::to_string(load.elements) + ", expected 1 or more");
  if (load.material == nullptr) {
    std::string names;
    for (const auto& material : all_materials())
      names += (names.empty() ? "" : ", ") + std::string(material.name);
    found.push_back("material: given none that is known, expected one of " + names);
  }
  // One complaint for all legs when they are alike, which is how most files have them.
  for (std::size_t leg = 0; leg < load.legs(); ++leg)
    if (leg == 0 || load.cold_resistance_ohm[leg] != load.cold_resistance_ohm[leg - 1])
      demand_above_zero(found, "cold_resistance", load.cold_resistance_ohm[leg], "ohm");
  demand_not_negative(found, "thyristor_drop", load.thyristor_drop_V, "V");
  return found;
}

}  // namespace emberline::plant
