#include "plant-models/electrical/plain.hpp"

#include <array>
#include <cstddef>

namespace emberline::plant {
namespace {

bool alike(const std::array<double, 3>& values) { return values[0] == values[1] && values[1] == values[2]; }

}  // namespace

bool is_plain(const SupplyParameters& supply) { return supply.inductance_H == 0.0; }
bool is_plain(const SupplyParameters& supply, const SupplyState& state) {
  if (any_open(state.open)) return false;
  return supply.system == System::single_phase || (alike(supply.phase_share) && alike(state.share));
}
bool is_plain(const SupplyParameters& supply, const LoadParameters& load) {
  const bool own = load.connection == Connection::star_4_wire || supply.system == System::single_phase;
  if (!own || !is_resistive(load)) return false;
  for (std::size_t l = 0; l < load.legs(); ++l)
    if (load.cold_resistance_ohm[l] != load.cold_resistance_ohm[0]) return false;
  return true;
}
bool is_plain(const LoadParameters& load, const Conduction& command) {
  if (command.first_half_deg) return false;
  for (std::size_t l = 0; l < load.legs(); ++l) {
    LegState expected;
    expected.ageing = command.legs[0].ageing;
    expected.elements_open = command.legs[0].elements_open;
    if (!(command.legs[l] == expected)) return false;
  }
  return command.legs[0].elements_open == 0 ||
         (load.grouping == Grouping::parallel && command.legs[0].elements_open < load.elements);
}

bool is_resistive(const LoadParameters& load) {
  if (load.transformer) return false;
  for (std::size_t l = 0; l < load.legs(); ++l)
    if (load.inductance_H[l] > 0.0) return false;
  return true;
}

bool full_conduction_is_its_own(const SupplyParameters& supply, bool neighbours, const SupplyState& state,
                                const LoadParameters& load) {
  if (neighbours && (supply.resistance_ohm > 0.0 || any_open(state.open))) return false;
  // What an inductance or a core has been through is part of it.
  return supply.inductance_H == 0.0 && is_resistive(load);
}

}  // namespace emberline::plant
