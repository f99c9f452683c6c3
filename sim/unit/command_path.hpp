#pragma once

#include <cstdint>

#include "sim/base/sim_time.hpp"
#include "sim/unit/ramp.hpp"
#include "sim/unit/unit_spec.hpp"
#include "sim/unit/virtual_unit.hpp"

namespace emberline::unit {

/// The share of full-conduction power that brings the control variable to `demand` (0 to 1) of its full
/// scale, clamped to 0..1. For a resistive load at one temperature power goes with the square of RMS voltage
/// and of RMS current (P = V^2/R = I^2 R), so with x_full what the load takes at full conduction:
///     open-loop         demand
///     voltage           (demand * full_scale / V_full)^2
///     voltage-squared   demand * (full_scale / V_full)^2
///     current           (demand * full_scale / I_full)^2
///     power             demand * full_scale / P_full
/// An open load (voltage, but no current and no power) is driven to 1 by current and power control.
[[nodiscard]] double share_of_demand(const ControlSpec& control, double demand, const FullConduction& full);

/// An output under limits, and which of them act.
struct Limited {
  double output = 0.0;
  std::uint32_t acting = 0;  ///< bits of `warnings`: current-limit, voltage-limit, power-limit
};
/// Holds `wanted` down to what every limit allows: (I/I_full)^2, (V/V_full)^2, P/P_full. A limit acts when it
/// is the one that holds the output below what was wanted.
[[nodiscard]] Limited apply_limits(const LimitsSpec& limits, double wanted, const FullConduction& full);

/// From setpoint to output: ramp, control variable, limits. Off is at once, and every start is from 0.
///
/// While nothing can flow because there is no supply (FullConduction all zero, and before the first
/// advance()), the path demands 0, open loop too, and begins from 0 with its ramp at the advance() that sees
/// the supply again: a controller that went on asking would stand at full conduction when the contactor
/// closes.
///
/// With a held angle (FiringSpec::held_angle_deg) setpoint, ramp and limits are out of the game: on means
/// that angle, and the output is the share the load makes of it (FullConduction::held_share).
class CommandPath {
 public:
  /// The specs must outlive the path.
  CommandPath(const FiringSpec& firing, const ControlSpec& control, const LimitsSpec& limits);

  /// On, towards this target (0 to 1).
  void aim(SimTime at, double target);
  void off(SimTime at);
  /// Takes in what the load could take now and moves the output on to `now`.
  void advance(SimTime now, const FullConduction& full);

  [[nodiscard]] bool on() const { return on_; }
  [[nodiscard]] Drive drive() const;
  /// Bits of `warnings` of the limits that act now.
  [[nodiscard]] std::uint32_t limits_acting() const { return limited_.acting; }
  /// True while the ramp had not arrived when the output was last moved.
  [[nodiscard]] bool ramping() const;

 private:
  void update(SimTime at);

  const FiringSpec& firing_;
  const ControlSpec& control_;
  const LimitsSpec& limits_;
  Ramp ramp_;
  FullConduction full_;
  double target_ = 0.0;
  bool on_ = false;
  bool supplied_ = false;
  double demand_ = 0.0;  ///< the ramp's value when the output was last moved
  Limited limited_;
};

}  // namespace emberline::unit
