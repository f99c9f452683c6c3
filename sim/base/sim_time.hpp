#pragma once

#include <chrono>
#include <cmath>
#include <cstdint>

namespace emberline {

/// Lengths of simulated time. Whole nanoseconds, so that sums are exact and runs repeat to the byte.
using Duration = std::chrono::nanoseconds;

/// The clock of the bench. It has no now(): whoever moves the bench on says what time it is.
struct SimClock {
  using rep = std::int64_t;
  using period = std::nano;
  using duration = Duration;
  using time_point = std::chrono::time_point<SimClock, Duration>;
  static constexpr bool is_steady = true;
};

/// An instant of simulated time; the default value is the start of the run.
using SimTime = SimClock::time_point;

/// A duration as seconds.
constexpr double to_seconds(Duration duration) { return static_cast<double>(duration.count()) / 1e9; }
/// An instant as seconds since the start of the run.
constexpr double to_seconds(SimTime at) { return to_seconds(at.time_since_epoch()); }
/// Seconds as a duration, rounded to the nearest nanosecond.
inline Duration from_seconds(double seconds) { return Duration{std::llround(seconds * 1e9)}; }

}  // namespace emberline
