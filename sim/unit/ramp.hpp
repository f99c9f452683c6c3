#pragma once

#include "sim/base/sim_time.hpp"

namespace emberline::unit {

/// A value that follows a target linearly in time, 0 to 1 in `full_travel`, up and down alike; at once if
/// that is 0. Kept as the point where the current move began, so value() is exact at any instant and does not
/// depend on when or how often it is asked.
class Ramp {
 public:
  explicit Ramp(Duration full_travel) : full_travel_(full_travel) {}

  /// Moves towards `target` (0 to 1) from where it stands at `at`. The same target again changes nothing.
  void aim(SimTime at, double target);
  /// Stands at `value` at once, whatever the travel time.
  void jump(SimTime at, double value);
  [[nodiscard]] double value(SimTime at) const;
  [[nodiscard]] double target() const { return target_; }

 private:
  Duration full_travel_;
  SimTime since_{};
  double from_ = 0.0;
  double target_ = 0.0;
};

}  // namespace emberline::unit
