#include "sim/unit/ramp.hpp"

#include <algorithm>

namespace emberline::unit {

void Ramp::aim(SimTime at, double target) {
  if (target == target_) return;
  from_ = value(at);
  since_ = at;
  target_ = target;
}

void Ramp::jump(SimTime at, double value) {
  from_ = value;
  target_ = value;
  since_ = at;
}

double Ramp::value(SimTime at) const {
  if (full_travel_ <= Duration{}) return target_;
  const double travelled =
      static_cast<double>((at - since_).count()) / static_cast<double>(full_travel_.count());
  return target_ >= from_ ? std::min(target_, from_ + travelled) : std::max(target_, from_ - travelled);
}

}  // namespace emberline::unit
