#pragma once

#include "tests/support/solved.hpp"

/// Loads and states as the textbooks have them: constant resistance, no thyristor drop, no leakage.
inline emberline::plant::LoadParameters ideal_load(emberline::plant::Connection connection,
                                                   std::array<double, 3> leg_ohm) {
  emberline::plant::LoadParameters load;
  load.connection = connection;
  load.material = emberline::plant::find_material("constant");
  load.cold_resistance_ohm = leg_ohm;
  load.thyristor_drop_V = 0.0;
  return load;
}
inline emberline::plant::LoadParameters ideal_load(emberline::plant::Connection connection, double leg_ohm) {
  return ideal_load(connection, alike(leg_ohm));
}

inline emberline::plant::Conduction fired_at(double angle_deg) {
  emberline::plant::Conduction state;
  state.firing_angle_deg = angle_deg;
  return state;
}

inline emberline::plant::SupplyParameters single_phase_supply(double volts, double hertz = 50.0) {
  emberline::plant::SupplyParameters supply;
  supply.system = emberline::plant::System::single_phase;
  supply.voltage_V = volts;
  supply.frequency_Hz = hertz;
  return supply;
}

inline emberline::plant::SupplyParameters three_phase_supply(double line_line_V) {
  emberline::plant::SupplyParameters supply;
  supply.voltage_V = line_line_V;
  return supply;
}

/// One load on a supply without impedance, settled.
inline emberline::plant::LoadResult solved_alone(const emberline::plant::SupplyParameters& supply,
                                                 const emberline::plant::LoadParameters& load,
                                                 const emberline::plant::Conduction& state,
                                                 emberline::plant::SupplyState supply_state = {}) {
  supply_state.frequency_Hz = supply.frequency_Hz;
  return solved(emberline::plant::Network(supply, {load}), {state}, supply_state).loads[0];
}
