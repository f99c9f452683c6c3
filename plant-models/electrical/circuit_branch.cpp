#include "plant-models/electrical/circuit_branch.hpp"

#include <cmath>
#include <numbers>

namespace emberline::plant {
namespace {

/// Of R and L in series.
Branch::Companion series_companion(double resistance_ohm, double inductance_H, double step_s,
                                   bool trapezoidal, double current_A, double voltage_V) {
  if (!std::isfinite(resistance_ohm)) return {};
  if (inductance_H <= 0.0) return {1.0 / resistance_ohm, 0.0};
  const double per_step = inductance_H / step_s;
  if (!trapezoidal) {
    const double g = 1.0 / (per_step + resistance_ohm);
    return {g, g * per_step * current_A};
  }
  const double g = 0.5 / (per_step + 0.5 * resistance_ohm);
  return {g, g * (voltage_V + current_A * (2.0 * per_step - resistance_ohm))};
}

}  // namespace

Branch::Branch(const LoadParameters& load, std::size_t leg, double resistance_ohm, double nominal_V,
               double nominal_rad_per_s)
    : resistance_ohm_(resistance_ohm), inductance_H_(load.inductance_H[leg]) {
  if (!load.transformer) return;
  const auto& given = *load.transformer;
  transformer_ = true;
  resistance_ohm_ *= given.ratio * given.ratio;
  inductance_H_ *= given.ratio * given.ratio;
  winding_ohm_ = given.winding_resistance_ohm;
  leakage_H_ = given.leakage_inductance_H;
  magnetising_H_ = given.magnetising_inductance_H;
  saturated_H_ = given.saturated_inductance_H;
  const double peak_Vs = std::numbers::sqrt2 * nominal_V / nominal_rad_per_s;
  knee_Vs_ = given.knee * peak_Vs;
  remanence_Vs_ = given.remanence * peak_Vs;
}

BranchState Branch::rest() const {
  BranchState state;
  state.flux_Vs = state.remanent_Vs = remanence_Vs_;
  return state;
}

int Branch::piece_of(double flux_Vs) const {
  if (flux_Vs > knee_Vs_) return 1;
  return flux_Vs < -knee_Vs_ ? -1 : 0;
}

double Branch::admittance_S(double rad_per_s) const {
  return 1.0 / std::hypot(resistance_ohm_ + winding_ohm_, rad_per_s * (inductance_H_ + leakage_H_));
}

Branch::Companion Branch::companion(double step_s, Rule rule, bool live) {
  step_s_ = step_s;
  trapezoidal_ = rule == Rule::trapezoidal;
  live_ = live;
  direct_ = !live || (winding_ohm_ <= 0.0 && leakage_H_ <= 0.0);
  if (!transformer_) {
    whole_ = series_companion(resistance_ohm_, live ? inductance_H_ : 0.0, step_s, trapezoidal_,
                              state_.current_A, state_.voltage_V);
    return whole_;
  }
  secondary_ = series_companion(resistance_ohm_, inductance_H_, step_s, trapezoidal_, state_.secondary_A,
                                state_.inner_V);
  // i_m = (flux - remanent)/L_m, and beyond the knees more steeply.
  double slope = 1.0 / magnetising_H_;
  double offset_A = -state_.remanent_Vs / magnetising_H_;
  if (piece_ != 0) {
    slope = 1.0 / saturated_H_;
    offset_A -= piece_ * knee_Vs_ * (1.0 / saturated_H_ - 1.0 / magnetising_H_);
  }
  const double reach_s = trapezoidal_ ? 0.5 * step_s : step_s;
  const double known_Vs = state_.flux_Vs + (trapezoidal_ ? 0.5 * step_s * state_.inner_V : 0.0);
  shunt_ = {secondary_.conductance_S + slope * reach_s, secondary_.current_A + slope * known_Vs + offset_A};
  if (direct_) return whole_ = shunt_;
  series_ = series_companion(winding_ohm_, leakage_H_, step_s, trapezoidal_, state_.current_A,
                             state_.voltage_V - state_.inner_V);
  const double share = 1.0 / (series_.conductance_S + shunt_.conductance_S);
  whole_ = {series_.conductance_S * shunt_.conductance_S * share,
            shunt_.current_A + shunt_.conductance_S * (series_.current_A - shunt_.current_A) * share};
  return whole_;
}

Branch::Inside Branch::inside(double voltage_V) const {
  const double inner_V = direct_
                             ? voltage_V
                             : (series_.conductance_S * voltage_V + series_.current_A - shunt_.current_A) /
                                   (series_.conductance_S + shunt_.conductance_S);
  const double mean_V = trapezoidal_ ? 0.5 * (inner_V + state_.inner_V) : inner_V;
  return {inner_V, state_.flux_Vs + step_s_ * mean_V};
}

bool Branch::core_disagrees(double voltage_V) {
  if (!transformer_) return false;
  const int piece = piece_of(inside(voltage_V).flux_Vs);
  if (piece == piece_) return false;
  piece_ = piece;
  return true;
}

double Branch::element_W(double voltage_V) const {
  if (!transformer_ || !std::isfinite(resistance_ohm_)) return 0.0;
  const double secondary_A = secondary_.conductance_S * inside(voltage_V).inner_V + secondary_.current_A;
  return secondary_A * secondary_A * resistance_ohm_;
}

void Branch::advance(double voltage_V) {
  if (transformer_) {
    const auto [inner_V, flux_Vs] = inside(voltage_V);
    state_.secondary_A = secondary_.conductance_S * inner_V + secondary_.current_A;
    state_.inner_V = inner_V;
    state_.flux_Vs = flux_Vs;
  }
  // What leaks is not carried on: an inductance that is switched in begins with nothing.
  state_.current_A = live_ ? whole_.conductance_S * voltage_V + whole_.current_A : 0.0;
  state_.voltage_V = voltage_V;
}

void Branch::switched(bool conducting) {
  if (!transformer_) return;
  state_.remanent_Vs = conducting ? 0.0 : std::copysign(remanence_Vs_, state_.flux_Vs);
}

}  // namespace emberline::plant
