#include "sim/rehearsal/profile.hpp"

#include <cmath>

namespace emberline::rehearsal {

void Profile::begin(SimTime now, double measured_degC) {
  begun_ = now;
  from_degC_ = measured_degC;
}

double Profile::setpoint_degC(SimTime now) const {
  double at_degC = from_degC_;
  double left_s = begun_ ? to_seconds(now - *begun_) : 0.0;
  for (const ProfileSegment& segment : *segments_) {
    if (!segment.to_degC) {
      left_s -= to_seconds(segment.hold);
      if (left_s <= 0.0) break;
      continue;
    }
    const double way_K = *segment.to_degC - at_degC;
    const double takes_s = std::abs(way_K) / segment.rate_K_per_s;
    if (left_s < takes_s) return at_degC + std::copysign(segment.rate_K_per_s * left_s, way_K);
    at_degC = *segment.to_degC;
    left_s -= takes_s;
  }
  return at_degC;
}

}  // namespace emberline::rehearsal
