#pragma once

#include <cstdint>

#include "sim/base/sim_time.hpp"
#include "sim/unit/unit_spec.hpp"
#include "sim/unit/virtual_unit.hpp"

namespace emberline::unit {

/// How much more output than a plain resistive load this one needs for a voltage, a current or a power:
/// factors on the share of full conduction, 1 for a plain load.
struct Trims {
  double voltage = 1.0;
  double current = 1.0;
  double power = 1.0;
  double highest_current = 1.0;  ///< of the leg that takes most
};

/// The share of full-conduction power that brings the control variable to `demand` (0 to 1) of its full
/// scale, clamped to 0..1. For a resistive load at one temperature power goes with the square of RMS voltage
/// and of RMS current (P = V^2/R = I^2 R), so with x_full what the load takes at full conduction:
///     open-loop         demand
///     voltage           (demand * full_scale / V_full)^2
///     voltage-squared   demand * (full_scale / V_full)^2
///     current           (demand * full_scale / I_full)^2
///     power             demand * full_scale / P_full
/// each times its trim. An open load (voltage, but no current and no power) is driven to 1 by current and
/// power control.
[[nodiscard]] double share_of_demand(const ControlSpec& control, double demand, const FullConduction& full,
                                     const Trims& trims = {});

/// An output under limits, and which of them act.
struct Limited {
  double output = 0.0;
  std::uint32_t acting = 0;  ///< bits of `warnings`: current-limit, voltage-limit, power-limit
};
/// Holds `wanted` down to what every limit allows: (I/I_full)^2, (V/V_full)^2, P/P_full, each times its trim.
/// I_full is that of the leg that takes most (FullConduction::highest_A), so that none carries more.
/// A limit acts when it is the one that holds the output below what was wanted.
[[nodiscard]] Limited apply_limits(const LimitsSpec& limits, double wanted, const FullConduction& full,
                                   const Trims& trims = {});

/// Learns the trims of loads that follow another law (inductance, three wires with a leg missing) from
/// measured cycles. With an output s a plain load behind the trim t would take x(s/t); the cycle took
/// x_measured, so
///     t <- t (x(s/t) / x_measured)^k,   k = 1/2 for the power, 1 for voltage and current,
/// which is half the correction that would be whole if the law were a plain one, and converges wherever power
/// rises with the output by an exponent between 0 and 4. At the fixed point x(s/t) = x_measured, so that what
/// is demanded is measured. It says nothing about the demand: ramp, limits and the response of the loop do
/// not wind it up.
class LoadLaw {
 public:
  /// Differences below this are no other law: a plain load's trims stay exactly 1.
  static constexpr double kPlainWithin = 1.0e-4;

  /// A whole cycle with `output` all the time, of a load of `phases` that could have taken `full`.
  void learn(const CycleSeen& cycle, int phases, double output, const FullConduction& full);
  /// A cycle from which there was nothing to learn.
  void stand_still() { last_move_ = 0.0; }
  /// Back to a plain load.
  void forget() { *this = LoadLaw{}; }

  [[nodiscard]] const Trims& trims() const { return trims_; }
  /// By how much the last cycle moved any trim, as a share.
  [[nodiscard]] double last_move() const { return last_move_; }

 private:
  void correct(double& trim, double expected, double measured, double exponent);

  Trims trims_;
  double last_move_ = 0.0;
};

}  // namespace emberline::unit
