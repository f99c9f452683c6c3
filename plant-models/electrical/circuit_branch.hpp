#pragma once

#include "plant-models/electrical/load.hpp"

namespace emberline::plant {

/// What a leg of a load carries from one instant to the next. Transformer: all values of the primary.
struct BranchState {
  double current_A = 0.0;    ///< through the leg, or into the primary
  double voltage_V = 0.0;    ///< across it
  double inner_V = 0.0;      ///< transformer: across the magnetising inductance
  double secondary_A = 0.0;  ///< transformer: into the referred load
  double flux_Vs = 0.0;
  double remanent_Vs = 0.0;  ///< flux at which the core comes to rest as it is now
};

/// One leg of a load: R, R-L, or a transformer with R or R-L behind it. Over a step of time it is a
/// conductance beside a current source (companion model):
///     trapezoidal rule, of second order, or backward Euler, which forgets what a switch has broken
class Branch {
 public:
  enum class Rule { trapezoidal, backward_euler };
  struct Companion {
    double conductance_S = 0.0;
    double current_A = 0.0;  ///< i = conductance v + current at the end of the step
  };

  Branch() = default;
  /// `resistance_ohm` of the load as it is in this cycle, infinite when open; `nominal_V` across the leg.
  Branch(const LoadParameters& load, std::size_t leg, double resistance_ohm, double nominal_V,
         double nominal_rad_per_s);

  [[nodiscard]] bool has_memory() const { return transformer_ || inductance_H_ > 0.0; }
  [[nodiscard]] double conductance_S() const { return 1.0 / resistance_ohm_; }
  /// Roughly what flows at 1 V of this frequency.
  [[nodiscard]] double admittance_S(double rad_per_s) const;
  [[nodiscard]] const BranchState& state() const { return state_; }
  void set_state(const BranchState& state) { state_ = state; }
  /// Nothing has been connected yet.
  [[nodiscard]] BranchState rest() const;

  /// For a step of this length from state(). Not `live`: behind thyristors that are off, where what leaks
  /// through them alone settles at once; then inductances in series count as nothing.
  Companion companion(double step_s, Rule rule, bool live);
  /// The core has left the piece of its curve that the last companion() assumed, and takes it with this
  /// voltage across the leg at the end of the step: ask companion() again.
  bool core_disagrees(double voltage_V);
  /// What the load behind turns into heat at the end of the step, with this voltage across the leg.
  /// Transformer only: else the leg is the load.
  [[nodiscard]] double element_W(double voltage_V) const;
  /// Ends the step that companion() was asked for.
  void advance(double voltage_V);
  /// The thyristors in front have begun, or ended, to conduct.
  void switched(bool conducting);

 private:
  struct Inside {  ///< of the transformer, at the end of a step
    double inner_V, flux_Vs;
  };
  [[nodiscard]] Inside inside(double voltage_V) const;
  [[nodiscard]] int piece_of(double flux_Vs) const;

  bool transformer_ = false;
  double resistance_ohm_ = 1.0;  ///< transformer: referred to the primary
  double inductance_H_ = 0.0;    ///< likewise
  double winding_ohm_ = 0.0;
  double leakage_H_ = 0.0;
  double magnetising_H_ = 1.0;
  double saturated_H_ = 1.0;
  double knee_Vs_ = 1.0;
  double remanence_Vs_ = 0.0;
  BranchState state_;

  // Of the step that companion() was asked for.
  double step_s_ = 0.0;
  bool trapezoidal_ = false;
  bool live_ = true;
  int piece_ = 0;        ///< of the core's curve: below, between or above the knees
  bool direct_ = false;  ///< nothing in series with the core: its voltage is the leg's
  Companion whole_;
  Companion series_;
  Companion shunt_;  ///< magnetising and referred load together
  Companion secondary_;
};

}  // namespace emberline::plant
