#include <cmath>
#include <sstream>
#include <string>
#include <string_view>
#include <vector>

#include "plant-models/electrical/network.hpp"

namespace emberline::plant {
namespace {

std::string spaced(std::string_view unit) { return unit.empty() ? "" : " " + std::string(unit); }

/// "WHAT: given GIVEN UNIT, expected EXPECTED".
std::string complaint(std::string_view what, double given, std::string_view unit, std::string_view expected) {
  std::ostringstream text;
  text << what << ": given " << given << spaced(unit) << ", expected " << expected;
  return text.str();
}

void demand_above_zero(std::vector<std::string>& found, std::string_view what, double value,
                       std::string_view unit) {
  if (!(std::isfinite(value) && value > 0.0))
    found.push_back(complaint(what, value, unit, "a value above 0" + spaced(unit)));
}

void demand_not_negative(std::vector<std::string>& found, std::string_view what, double value,
                         std::string_view unit) {
  if (!(std::isfinite(value) && value >= 0.0))
    found.push_back(complaint(what, value, unit, "0" + spaced(unit) + " or more"));
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

void transformer_problems(std::vector<std::string>& found, const LoadParameters& load) {
  const TransformerParameters& given = *load.transformer;
  if (load.three_wire())
    found.push_back("transformer: given with " + std::string(word(load.connection)) +
                    ", expected single-phase, star-4-wire or open-delta");
  demand_above_zero(found, "transformer: ratio", given.ratio, "");
  demand_not_negative(found, "transformer: winding_resistance", given.winding_resistance_ohm, "ohm");
  demand_not_negative(found, "transformer: leakage_inductance", given.leakage_inductance_H, "H");
  demand_above_zero(found, "transformer: magnetising_inductance", given.magnetising_inductance_H, "H");
  demand_above_zero(found, "transformer: knee", given.knee, "");
  demand_above_zero(found, "transformer: saturated_inductance", given.saturated_inductance_H, "H");
  if (!(given.saturated_inductance_H <= given.magnetising_inductance_H))
    found.push_back(complaint("transformer: saturated_inductance", given.saturated_inductance_H, "H",
                              "no more than the magnetising inductance"));
  if (!(given.remanence >= 0.0 && given.remanence < given.knee))
    found.push_back(
        complaint("transformer: remanence", given.remanence, "", "0 or more, and below the knee"));
}

}  // namespace

std::vector<std::string> Network::problems(const SupplyParameters& supply) {
  std::vector<std::string> found;
  demand_above_zero(found, "voltage", supply.voltage_V, "V");
  demand_above_zero(found, "frequency", supply.frequency_Hz, "Hz");
  demand_not_negative(found, "impedance", supply.resistance_ohm, "ohm");
  demand_not_negative(found, "impedance: inductance", supply.inductance_H, "H");
  for (const double share : supply.phase_share) demand_not_negative(found, "phases", share, "");
  return found;
}

std::vector<std::string> Network::problems(const SupplyParameters& supply, const LoadParameters& load) {
  std::vector<std::string> found;
  const bool single_phase_load = load.connection == Connection::single_phase;
  if (supply.system == System::single_phase && !single_phase_load)
    found.push_back("connection: given " + std::string(word(load.connection)) +
                    " on a single-phase supply, expected no connection, or a three-phase supply");
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
  for (std::size_t leg = 0; leg < load.legs(); ++leg) {
    if (leg > 0 && load.inductance_H[leg] == load.inductance_H[leg - 1] &&
        load.ageing[leg] == load.ageing[leg - 1])
      continue;
    demand_not_negative(found, "inductance", load.inductance_H[leg], "H");
    demand_above_zero(found, "ageing", load.ageing[leg], "");
  }
  demand_not_negative(found, "thyristor_drop", load.thyristor_drop_V, "V");
  demand_not_negative(found, "leakage", load.leakage_A, "A");
  if (load.controlled_legs != 3 && load.controlled_legs != 2)
    found.push_back("controlled_legs: given " + std::to_string(load.controlled_legs) + ", expected 3 or 2");
  if (load.controlled_legs == 2 && !load.three_wire())
    found.push_back("controlled_legs: given 2 with " + std::string(word(load.connection)) +
                    ", expected 3: only star-3-wire and delta can do with two");
  if (load.transformer) transformer_problems(found, load);
  return found;
}

}  // namespace emberline::plant
