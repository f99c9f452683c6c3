#include "plant-models/electrical/closed_forms.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>
#include <span>

namespace emberline::plant {
namespace {
constexpr double kPi = std::numbers::pi;

double firing_rad(double firing_angle_deg) { return std::clamp(firing_angle_deg, 0.0, 180.0) / 180.0 * kPi; }
}  // namespace

ClosedForms::ClosedForms(const SupplyParameters& supply, const std::vector<LoadParameters>& loads)
    : supply_(supply),
      loads_(loads),
      nominal_V_(supply.voltage_V / (supply.system == System::three_phase ? std::numbers::sqrt3 : 1.0)) {
  resistances_ohm_.resize(loads_.size());
  legs_.resize(loads_.size());
  connected_.resize(loads_.size());
}

void ClosedForms::prepare(std::size_t index, const Conduction& state, bool full) {
  const LoadParameters& load = loads_[index];
  connected_[index] = state.connected || full ? 1 : 0;
  const double firing = full ? 0.0 : state.connected ? firing_rad(state.firing_angle_deg) : kPi;
  const double resistance = leg_resistance_ohm(load, 0, state.element_degC, state.legs[0]);
  resistances_ohm_[index] = resistance;
  legs_[index] = {1.0 / resistance, load.thyristor_drop_V, firing};
}

void ClosedForms::solve_waves(double share, std::span<const HalfWave::Leg> legs) {
  half_wave_.solve(std::numbers::sqrt2 * nominal_V_ * share, supply_.resistance_ohm, legs);
}

void ClosedForms::fill(std::size_t index, std::size_t place, LoadResult& result, bool with_neutral) {
  result = LoadResult{};
  const double resistance = resistances_ohm_[index];
  const double square = half_wave_.current_mean_square(place);
  const double current_A = std::sqrt(square);
  for (std::size_t phase = 0; phase < phases(); ++phase) {
    result.leg_resistance_ohm[phase] = resistance;
    result.legs[phase] = {current_A * resistance, current_A, square * resistance};
    result.pairs[phase] = {half_wave_.current_mean(place), 0.0, half_wave_.current_peak(place)};
    result.element_W[phase] = result.legs[phase].power_W;
    result.line_current_A[phase] = current_A;
    result.line_power_W[phase] = half_wave_.power(place);
  }
  if (legs_[index].firing_rad >= kPi) {
    if (connected_[index] != 0) fill_leaking(index, result);
  } else if (with_neutral) {
    result.neutral_current_A =
        phases() == 1 ? current_A : std::sqrt(half_wave_.sum_of_three_mean_square(place));
  }
}

/// What a pair lets through that is off: too little to be seen by the busbar.
void ClosedForms::fill_leaking(std::size_t index, LoadResult& result) {
  const double leakage_S = loads_[index].leakage_A / nominal_V_;
  if (leakage_S <= 0.0) return;
  const double resistance = resistances_ohm_[index];
  const double node_V = std::sqrt(half_wave_.node_mean_square());
  const double current_A = node_V / (resistance + 1.0 / leakage_S);
  const double peak_A = std::numbers::sqrt2 * current_A;
  for (std::size_t phase = 0; phase < phases(); ++phase) {
    result.legs[phase] = {current_A * resistance, current_A, current_A * current_A * resistance};
    result.element_W[phase] = result.legs[phase].power_W;
    result.pairs[phase] = {2.0 / kPi * peak_A, 0.0, peak_A};
    result.line_current_A[phase] = current_A;
    result.line_power_W[phase] = node_V * current_A;
  }
  if (phases() == 1) result.neutral_current_A = current_A;
}

void ClosedForms::solve(double share, const std::vector<Conduction>& states, NetworkResult& result) {
  assert(states.size() == loads_.size());
  for (std::size_t index = 0; index < loads_.size(); ++index) prepare(index, states[index], false);
  solve_waves(share, legs_);
  result.supply_voltage_V = {};
  result.supply_line_V = {};
  result.supply_current_A = {};
  for (std::size_t phase = 0; phase < phases(); ++phase) {
    result.supply_voltage_V[phase] = std::sqrt(half_wave_.node_mean_square());
    if (phases() == 3) result.supply_line_V[phase] = std::numbers::sqrt3 * result.supply_voltage_V[phase];
    result.supply_current_A[phase] = std::sqrt(half_wave_.total_mean_square());
  }
  result.supply_neutral_A =
      phases() == 1 ? result.supply_current_A[0] : std::sqrt(half_wave_.sum_of_three_totals_mean_square());
  result.loads.resize(loads_.size());
  for (std::size_t index = 0; index < loads_.size(); ++index) fill(index, index, result.loads[index], true);
}

LoadResult ClosedForms::full_conduction(std::size_t index, double share,
                                        const std::vector<Conduction>& states) {
  assert(index < loads_.size());
  LoadResult result;
  // Without a source resistance nobody is anybody's neighbour.
  const bool alone = supply_.resistance_ohm <= 0.0;
  for (std::size_t u = 0; u < loads_.size(); ++u)
    if (u == index || !alone) prepare(u, states[u], u == index);
  solve_waves(share, alone ? std::span(&legs_[index], 1) : std::span<const HalfWave::Leg>(legs_));
  fill(index, alone ? 0 : index, result, false);
  return result;
}

}  // namespace emberline::plant
