#pragma once

#include "sim/base/sim_time.hpp"

namespace emberline::bench {

/// Demand as energy meters count it: the energy of a whole interval, divided by the interval. Intervals
/// follow each other from time 0; shown is the last one that has ended, 0 before the first.
class DemandMeter {
 public:
  /// `interval` is above 0.
  explicit DemandMeter(Duration interval) : interval_(interval) {}
  /// A stretch of constant power, which begins where the last one ended.
  void pass(Duration length, double power_W);
  [[nodiscard]] double demand_W() const { return demand_W_; }
  [[nodiscard]] double peak_W() const { return peak_W_; }  ///< the largest so far

 private:
  Duration interval_;
  Duration into_{};        ///< the interval under way
  double energy_J_ = 0.0;  ///< of that interval
  double demand_W_ = 0.0;
  double peak_W_ = 0.0;
};

}  // namespace emberline::bench
