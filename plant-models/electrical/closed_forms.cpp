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

void fill_leg(Leg& leg, double current_mean_square, double resistance_ohm) {
  leg.current_A = std::sqrt(current_mean_square);
  leg.voltage_V = leg.current_A * resistance_ohm;
  leg.power_W = current_mean_square * resistance_ohm;
}

void fill_phases(LoadResult& result, std::size_t phases, double branch, double line, double resistance_ohm) {
  for (std::size_t phase = 0; phase < phases; ++phase) {
    fill_leg(result.legs[phase], branch, resistance_ohm);
    result.line_current_A[phase] = std::sqrt(line);
  }
}
}  // namespace

ClosedForms::ClosedForms(const SupplyParameters& supply, const std::vector<LoadParameters>& loads)
    : supply_(supply), loads_(loads) {
  resistances_ohm_.resize(loads_.size());
  legs_.resize(loads_.size());
  coupled_loads_.resize(loads_.size());
}

bool ClosedForms::between_lines(std::size_t index) const {
  return loads_[index].connection == Connection::delta || loads_[index].connection == Connection::open_delta;
}

void ClosedForms::prepare(const std::vector<Conduction>& states, std::optional<std::size_t> full) {
  assert(states.size() == loads_.size());
  coupled_ = false;
  for (std::size_t index = 0; index < loads_.size(); ++index) {
    const LoadParameters& load = loads_[index];
    const Conduction& state = states[index];
    const bool delta = between_lines(index);
    double firing = state.connected ? firing_rad(state.firing_angle_deg) : kPi;
    if (full == index) firing = 0.0;
    const double resistance = leg_resistance_ohm(load, 0, state.element_degC, state.legs[0]);
    resistances_ohm_[index] = resistance;
    coupled_loads_[index] = {delta, 1.0 / resistance, load.thyristor_drop_V, firing};
    // Without a source resistance a delta load is nobody's neighbour, and is looked at by itself.
    legs_[index] = {1.0 / resistance, load.thyristor_drop_V, delta ? kPi : firing};
    if (delta && firing < kPi && supply_.resistance_ohm > 0.0) coupled_ = true;
  }
}

double ClosedForms::solve_waves(double share) {
  share_ = share;
  const double root = supply_.system == System::three_phase ? std::numbers::sqrt3 : 1.0;
  const double peak_V = std::numbers::sqrt2 * supply_.voltage_V * share / root;
  if (coupled_) {
    coupled_phases_.solve(peak_V, supply_.resistance_ohm, coupled_loads_);
    return coupled_phases_.node_mean_square();
  }
  half_wave_.solve(peak_V, supply_.resistance_ohm, legs_);
  return half_wave_.node_mean_square();
}

void ClosedForms::fill_delta_alone(std::size_t index, LoadResult& result) {
  HalfWave::Leg leg = legs_[index];
  leg.firing_rad = coupled_loads_[index].firing_rad;
  if (leg.firing_rad >= kPi) return;
  delta_wave_.solve(std::numbers::sqrt2 * supply_.voltage_V * share_, 0.0, std::span(&leg, 1));
  const double own = delta_wave_.current_mean_square(0);
  // <(a+b+c)^2> = 3 <a^2> + 6 <ab> and <(a-c)^2> = 2 <a^2> - 2 <ac>; the three products are alike.
  const double line = 3.0 * own - delta_wave_.sum_of_three_mean_square(0) / 3.0;
  fill_phases(result, 3, own, line, resistances_ohm_[index]);
}

void ClosedForms::fill(std::size_t index, LoadResult& result, bool with_neutral) {
  result = LoadResult{};
  const double resistance = resistances_ohm_[index];
  for (std::size_t leg = 0; leg < loads_[index].legs(); ++leg) result.leg_resistance_ohm[leg] = resistance;
  const bool star = loads_[index].connection == Connection::star_4_wire;
  if (coupled_) {
    const auto& currents = coupled_phases_.currents(index);
    fill_phases(result, 3, currents.branch_mean_square, currents.line_mean_square, resistance);
    if (with_neutral) result.neutral_current_A = std::sqrt(currents.neutral_mean_square);
    return;
  }
  if (between_lines(index)) {
    fill_delta_alone(index, result);
    return;
  }
  const double own = half_wave_.current_mean_square(index);
  fill_phases(result, phases(), own, own, resistance);
  if (star && with_neutral && own > 0.0)
    result.neutral_current_A = std::sqrt(half_wave_.sum_of_three_mean_square(index));
}

void ClosedForms::solve(double share, const std::vector<Conduction>& states, NetworkResult& result) {
  prepare(states, std::nullopt);
  const double busbar_V = std::sqrt(solve_waves(share));
  result.supply_voltage_V = {};
  for (std::size_t phase = 0; phase < phases(); ++phase) result.supply_voltage_V[phase] = busbar_V;
  result.loads.resize(loads_.size());
  for (std::size_t index = 0; index < loads_.size(); ++index) fill(index, result.loads[index], true);
}

LoadResult ClosedForms::full_conduction(std::size_t index, double share,
                                        const std::vector<Conduction>& states) {
  assert(index < loads_.size());
  prepare(states, index);
  static_cast<void>(solve_waves(share));
  LoadResult result;
  fill(index, result, false);
  return result;
}

}  // namespace emberline::plant
