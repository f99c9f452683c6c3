#pragma once

#include <array>
#include <cstddef>
#include <string>
#include <vector>

#include "tests/interop/ngspice/power_stage.hpp"

namespace emberline::spice {

/// What differs most between plant::Network and ngspice in one quantity of one cycle. The deviation is a
/// share of what ngspice gives, or of a fiftieth of the largest value of its kind (such as RMS currents of
/// legs) where that is more: so near to nothing, nothing more is asked.
struct Deviation {
  std::string quantity;
  double ours = 0.0;
  double theirs = 0.0;
  double share = 0.0;
};

/// One circuit to be solved by both, from rest.
struct Case {
  std::string name;
  PowerStage stage;
  std::size_t first = 0;  ///< of the cycles that are compared; all those after it are, too
};

/// Solves both ways and gives the largest deviation of RMS voltages, currents and mean powers, of mean,
/// direct and peak currents. With EMBERLINE_SHOW_CIRCUITS in the environment it prints them all.
[[nodiscard]] Deviation compare(const Case& one);

/// Compares them, in a short run every second, and checks that none is farther off than `limit`; prints what
/// was found, a row a case.
void check_all(const std::vector<Case>& cases, double limit);

/// `angle_deg` in all cycles, for every load.
[[nodiscard]] Case steady(const std::string& name, const plant::SupplyParameters& supply,
                          const std::vector<plant::LoadParameters>& loads, double angle_deg,
                          std::size_t cycles = 2);

[[nodiscard]] plant::SupplyParameters mains(double resistance_ohm = 0.0, double inductance_H = 0.0);
[[nodiscard]] plant::SupplyParameters single_phase(double voltage_V, double frequency_Hz = 50.0);
/// Resistances and inductances by leg, thyristors with their usual drop.
[[nodiscard]] plant::LoadParameters load_of(plant::Connection connection, std::array<double, 3> ohm,
                                            std::array<double, 3> henry = {});

}  // namespace emberline::spice
