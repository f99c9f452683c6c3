#pragma once

#include <cstdint>
#include <optional>

#include "sim/base/sim_time.hpp"
#include "sim/unit/load_law.hpp"
#include "sim/unit/ramp.hpp"
#include "sim/unit/unit_spec.hpp"
#include "sim/unit/virtual_unit.hpp"

namespace emberline::unit {

/// From setpoint to output: ramp, control variable, supply compensation, response of the loop, limits. Off is
/// at once, and every start is from 0.
///
/// The share of the demand is fed forward from what the load would take at full conduction. In phase angle
/// the measured cycles correct it for loads that are not plain resistors (LoadLaw), so that the measured
/// control variable meets its demand and measured values stay within limits. The output follows what comes
/// out of that as a first-order loop, one step a measured cycle of length dt:
///     output += gain (1 - exp(-dt/response)) (share - output),   without response at once
///
/// A burst passes whole cycles on, so no current limit can hold it back: in bursts it is left out here.
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
  void set_limits(SimTime at, const LimitsSpec& limits);
  /// The cycle that ended now, of a load of `phases`; to be followed by advance() at the same instant.
  void saw(const CycleSeen& cycle, int phases);
  /// Takes in what the load could take now and moves the output on to `now`.
  void advance(SimTime now, const FullConduction& full);

  [[nodiscard]] bool on() const { return on_; }
  [[nodiscard]] Drive drive() const;
  /// Bits of `warnings` of the limits that act now.
  [[nodiscard]] std::uint32_t limits_acting() const { return limited_.acting; }
  /// True while the ramp had not arrived when the output was last moved.
  [[nodiscard]] bool ramping() const;
  /// True while ramp, response or trims move the output.
  [[nodiscard]] bool unsettled() const;

 private:
  void learn(SimTime now, const FullConduction& full);
  [[nodiscard]] bool whole_cycle_at_one_output(SimTime now) const;
  void move(SimTime at, bool step);
  void follow(SimTime at, double share, bool step);
  [[nodiscard]] double compensated(double share) const;

  const FiringSpec& firing_;
  const ControlSpec& control_;
  LimitsSpec limits_;
  Ramp ramp_;
  FullConduction full_;
  LoadLaw law_;
  CycleSeen cycle_;  ///< the last one seen
  int phases_ = 1;
  bool cycle_new_ = false;  ///< it has not been acted on
  double target_ = 0.0;
  bool on_ = false;
  bool supplied_ = false;
  double demand_ = 0.0;    ///< the ramp's value when the output was last moved
  double share_ = 0.0;     ///< what the output follows, within limits
  SimTime followed_at_{};  ///< the last step of the loop
  SimTime changed_at_{};   ///< the output was last another one
  SimTime conducts_since_{};
  Limited limited_;
};

}  // namespace emberline::unit
