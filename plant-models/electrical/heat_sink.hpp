#pragma once

namespace emberline::plant {

/// The heat sink under a unit's thyristors, first order.
struct HeatSinkParameters {
  double resistance_K_per_W = 0.25;      ///< to the cabinet's air with the fan running, above 0
  double heat_capacity_J_per_K = 900.0;  ///< above 0
  double ambient_degC = 35.0;            ///< of the cabinet's air
  double without_fan = 3.0;              ///< factor on the resistance when the fan stands, 1 or more
};

///     C dT/dt = P - (T - T_ambient)/R
class HeatSink {
 public:
  explicit HeatSink(const HeatSinkParameters& parameters);
  /// A stretch of constant loss, moved on by the exact solution.
  void pass(double length_s, double loss_W);
  void set_fan(bool running) { fan_ = running; }
  [[nodiscard]] bool fan() const { return fan_; }
  [[nodiscard]] double temperature_degC() const { return temperature_degC_; }
  void set_temperature(double temperature_degC) { temperature_degC_ = temperature_degC; }

 private:
  HeatSinkParameters parameters_;
  bool fan_ = true;
  double temperature_degC_;
};

}  // namespace emberline::plant
