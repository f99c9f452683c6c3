#pragma once

#include <array>
#include <vector>

#include "plant-models/electrical/load.hpp"
#include "plant-models/electrical/network_result.hpp"
#include "plant-models/electrical/supply.hpp"
#include "tests/interop/ngspice/simulate.hpp"

namespace emberline::spice {

/// Both gates of a pair are held, in degrees from time 0 on.
struct GateWindow {
  double from_deg;
  double to_deg;
};

/// Supply and loads with what each of them does, cycle after cycle: the last cycle stays as long as needed.
struct PowerStage {
  plant::SupplyParameters supply;
  plant::SupplyState supply_state;
  std::vector<plant::LoadParameters> loads;
  std::vector<std::vector<plant::Conduction>> cycles;  ///< by cycle, then by load
  /// By load and pair: instead of what follows from the firing angles. Empty: nothing instead.
  std::vector<std::array<std::vector<GateWindow>, 3>> gates;
  double step_s = 5e-6;  ///< the longest of ngspice: what a jump at the end of a current is smeared over
};

/// The same as a circuit for ngspice. A thyristor is a diode with next to no voltage of its own, the forward
/// drop as a source, and a switch that closes by the gate and stays closed while more than half a milliampere
/// flows.
[[nodiscard]] Circuit circuit_of(const PowerStage& stage);

/// Solves `stage` by ngspice, from rest, and gives the cycles from `first` on, as plant::Network would.
[[nodiscard]] std::vector<plant::NetworkResult> simulate_cycles(const PowerStage& stage, std::size_t first);

}  // namespace emberline::spice
