#pragma once

#include <optional>
#include <vector>

#include "sim/base/sim_time.hpp"

namespace emberline::rehearsal {

/// One part of a firing curve: a ramp to a temperature, or a soak at the one that was reached.
struct ProfileSegment {
  std::optional<double> to_degC;  ///< nothing: a soak
  double rate_K_per_s = 0.0;      ///< ramp: how fast, up or down, above 0
  Duration hold{};                ///< soak: how long
};

/// The setpoint of a firing curve. It starts at the temperature measured when it begins, goes to the end of
/// each ramp at its rate, stays for each soak, and stays at the last temperature for good. It is a matter of
/// time alone: a furnace that cannot follow is not waited for.
class Profile {
 public:
  explicit Profile(const std::vector<ProfileSegment>& segments) : segments_(&segments) {}

  [[nodiscard]] bool begun() const { return begun_.has_value(); }
  void begin(SimTime now, double measured_degC);
  /// At `now`, not before its beginning.
  [[nodiscard]] double setpoint_degC(SimTime now) const;
  void forget() { begun_.reset(); }

 private:
  const std::vector<ProfileSegment>* segments_;
  std::optional<SimTime> begun_;
  double from_degC_ = 0.0;
};

}  // namespace emberline::rehearsal
