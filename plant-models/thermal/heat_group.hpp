#pragma once

#include <chrono>
#include <cstddef>
#include <vector>

#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>

#include "plant-models/thermal/heat_equations.hpp"
#include "plant-models/thermal/sensor.hpp"
#include "plant-models/thermal/thermal_state.hpp"

namespace emberline::plant {

/// Zones that exchange heat, moved on together. It looks ahead: a step goes on for as long as its error
/// allows (1 s at most), as if the powers stayed, and calls are served from inside it, as cubics through both
/// ends' values and slopes. When a power changes, the step is taken once more up to the instant that was
/// reached. Inside plant-models only.
class HeatGroup {
 public:
  /// `sources`: for each element its place in the list of powers given to advance().
  HeatGroup(const std::vector<ZoneParameters>& zones, const std::vector<ElementParameters>& elements,
            const std::vector<NeighbourParameters>& neighbours, std::vector<std::size_t> sources);

  void advance(std::chrono::nanoseconds step, const std::vector<double>& element_power_W);

  [[nodiscard]] double zone_degC(std::size_t zone) const { return now(zone); }
  [[nodiscard]] double measured_degC(std::size_t zone) const { return sensors_[zone].measured_degC(); }
  [[nodiscard]] double element_degC(std::size_t element) const { return now(equations_.place(element)); }
  [[nodiscard]] double wall_degC(std::size_t zone, double depth_m) const {
    return equations_.wall_degC(state_now(), zone, depth_m);
  }
  [[nodiscard]] std::size_t wall_cells(std::size_t zone) const { return equations_.wall_cells(zone); }
  [[nodiscard]] double stored_J() const;
  [[nodiscard]] double lost_J() const { return now(equations_.start().size() - 1); }
  [[nodiscard]] double given_J() const { return given_J_; }

  [[nodiscard]] ThermalState state() const;
  /// Goes on from there, and counts heat anew.
  void begin_at(const ThermalState& state);

 private:
  using Nanoseconds = std::chrono::nanoseconds;
  using State = HeatEquations::State;

  [[nodiscard]] bool as_assumed(const std::vector<double>& element_power_W) const;
  void assume(const std::vector<double>& element_power_W);
  void begin_step(Nanoseconds asked);
  void end_step();
  void stop_here();
  void pay();
  void tell_sensors(Nanoseconds from, Nanoseconds to);
  [[nodiscard]] double error_of_step(double length_s) const;
  [[nodiscard]] double now(std::size_t place) const;
  [[nodiscard]] State state_now() const;
  /// That with what is owed.
  [[nodiscard]] State paid_state() const;

  HeatEquations equations_;
  std::vector<std::size_t> sources_;
  std::vector<Sensor> sensors_;

  State state_;  ///< at the step's start
  State slopes_;
  State end_;  ///< at its end
  State end_slopes_;
  State error_;
  bool slopes_known_ = false;
  Nanoseconds length_{};  ///< of the step; 0: there is none
  Nanoseconds passed_{};  ///< of it, so far
  Nanoseconds look_ahead_{};
  Nanoseconds suggested_;  ///< by the last step's error

  std::vector<double> assumed_W_;  ///< by element
  State power_W_;                  ///< the same by place in the state
  /// By element: what came in and is not in the step, as powers within a hair of those assumed do not end it.
  std::vector<double> owed_J_;
  bool owing_ = false;
  double given_J_ = 0.0;
  boost::numeric::odeint::runge_kutta_dopri5<State> stepper_;
};

}  // namespace emberline::plant
