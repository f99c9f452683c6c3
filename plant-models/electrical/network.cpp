#include "plant-models/electrical/network.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>
#include <span>
#include <utility>

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

double LoadParameters::leg_resistance_ohm(double element_degC) const {
  assert(material != nullptr);
  const double one = cold_resistance_ohm * resistance_ratio(*material, element_degC);
  return grouping == Grouping::parallel ? one / elements : one * elements;
}

Network::Network(const SupplyParameters& supply, std::vector<LoadParameters> loads)
    : supply_(supply), loads_(std::move(loads)) {
  assert(problems(supply_).empty());
  for (const auto& load : loads_) assert(problems(supply_, load).empty());
  resistances_ohm_.resize(loads_.size());
  legs_.resize(loads_.size());
  coupled_loads_.resize(loads_.size());
}

double Network::leg_supply_V(std::size_t index) const {
  return loads_[index].connection == Connection::star_4_wire ? supply_.voltage_V / std::numbers::sqrt3
                                                             : supply_.voltage_V;
}

void Network::prepare(const std::vector<Conduction>& states, std::optional<std::size_t> full) const {
  assert(states.size() == loads_.size());
  coupled_ = false;
  for (std::size_t index = 0; index < loads_.size(); ++index) {
    const LoadParameters& load = loads_[index];
    const Conduction& state = states[index];
    const bool delta = load.connection == Connection::delta;
    double firing = state.connected ? firing_rad(state.firing_angle_deg) : kPi;
    if (full == index) firing = 0.0;
    assert(!delta || firing == 0.0 || firing == kPi);
    const double resistance = load.leg_resistance_ohm(state.element_degC);
    resistances_ohm_[index] = resistance;
    coupled_loads_[index] = {delta, 1.0 / resistance, load.thyristor_drop_V, firing};
    // Without a source resistance a delta load is nobody's neighbour, and is looked at by itself.
    legs_[index] = {1.0 / resistance, load.thyristor_drop_V, delta ? kPi : firing};
    if (delta && firing < kPi && supply_.resistance_ohm > 0.0) coupled_ = true;
  }
}

double Network::solve_waves() const {
  const double root = supply_.system == System::three_phase ? std::numbers::sqrt3 : 1.0;
  const double peak_V = std::numbers::sqrt2 * supply_.voltage_V / root;
  if (coupled_) {
    coupled_phases_.solve(peak_V, supply_.resistance_ohm, coupled_loads_);
    return coupled_phases_.node_mean_square();
  }
  half_wave_.solve(peak_V, supply_.resistance_ohm, legs_);
  return half_wave_.node_mean_square();
}

void Network::fill_delta_alone(std::size_t index, LoadResult& result) const {
  HalfWave::Leg leg = legs_[index];
  leg.firing_rad = coupled_loads_[index].firing_rad;
  if (leg.firing_rad >= kPi) return;
  delta_wave_.solve(std::numbers::sqrt2 * supply_.voltage_V, 0.0, std::span(&leg, 1));
  const double own = delta_wave_.current_mean_square(0);
  // <(a+b+c)^2> = 3 <a^2> + 6 <ab> and <(a-c)^2> = 2 <a^2> - 2 <ac>; the three products are alike.
  const double line = 3.0 * own - delta_wave_.sum_of_three_mean_square(0) / 3.0;
  fill_phases(result, 3, own, line, resistances_ohm_[index]);
}

void Network::fill(std::size_t index, LoadResult& result, bool with_neutral) const {
  result = LoadResult{};
  const double resistance = resistances_ohm_[index];
  result.leg_resistance_ohm = resistance;
  const bool star = loads_[index].connection == Connection::star_4_wire;
  if (coupled_) {
    const auto& currents = coupled_phases_.currents(index);
    fill_phases(result, 3, currents.branch_mean_square, currents.line_mean_square, resistance);
    if (with_neutral) result.neutral_current_A = std::sqrt(currents.neutral_mean_square);
    return;
  }
  if (loads_[index].connection == Connection::delta) {
    fill_delta_alone(index, result);
    return;
  }
  const double own = half_wave_.current_mean_square(index);
  fill_phases(result, phases(), own, own, resistance);
  if (star && with_neutral && own > 0.0)
    result.neutral_current_A = std::sqrt(half_wave_.sum_of_three_mean_square(index));
}

NetworkResult Network::solve(const std::vector<Conduction>& states) const {
  NetworkResult result;
  solve(states, result);
  return result;
}

void Network::solve(const std::vector<Conduction>& states, NetworkResult& result) const {
  prepare(states, std::nullopt);
  const double busbar_V = std::sqrt(solve_waves());
  result.supply_voltage_V = {};
  for (std::size_t phase = 0; phase < phases(); ++phase) result.supply_voltage_V[phase] = busbar_V;
  result.loads.resize(loads_.size());
  for (std::size_t index = 0; index < loads_.size(); ++index) fill(index, result.loads[index], true);
}

LoadResult Network::full_conduction(std::size_t index, const std::vector<Conduction>& states) const {
  assert(index < loads_.size());
  prepare(states, index);
  static_cast<void>(solve_waves());
  LoadResult result;
  fill(index, result, false);
  return result;
}

}  // namespace emberline::plant
