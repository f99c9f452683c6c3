#pragma once

#include <string>
#include <vector>

#include "sim/base/sim_time.hpp"

namespace emberline::io {

/// A vertical axis: ends at round numbers, a line at every `step`.
struct ValueScale {
  double bottom = 0.0;
  double top = 1.0;
  double step = 1.0;
};
/// An axis for values between these, with three to six lines.
[[nodiscard]] ValueScale value_scale(double lowest, double highest);

/// A line of the time axis.
struct TimeTick {
  SimTime at;
  std::string label;
};
/// Lines at round times from the start to `ends`, five to twelve of them, and how their labels are written.
struct TimeScale {
  std::vector<TimeTick> ticks;
  std::string unit;  ///< "s", "min:s", "h:min"
};
[[nodiscard]] TimeScale time_scale(SimTime ends);

}  // namespace emberline::io
