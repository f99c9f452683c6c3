#include "plant-models/electrical/circuit_gate.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace emberline::plant {
namespace {
constexpr double kPi = std::numbers::pi;
}  // namespace

Gate::Window Gate::window(int index) const {
  const double zero_rad = reference_rad_ + kPi * index;
  const bool first = first_rad_ && zero_rad > -1e-9 && zero_rad < kPi - 1e-9;
  const double firing = first ? *first_rad_ : firing_rad_;
  if (firing >= kPi) return {zero_rad, zero_rad};
  return {zero_rad + firing, zero_rad + std::max(kPi, firing + least_width_rad_)};
}

bool Gate::permits(int direction, double at_rad) const {
  const int now = static_cast<int>(std::floor((at_rad - reference_rad_) / kPi));
  for (const int index : {now, now - 1}) {
    if ((index % 2 == 0 ? 1 : -1) != direction) continue;
    const auto held = window(index);
    if (at_rad >= held.from_rad && at_rad < held.to_rad) return true;
  }
  return false;
}

double Gate::next_edge(double after_rad) const {
  double next = 2.0 * kPi;
  const int now = static_cast<int>(std::floor((after_rad - reference_rad_) / kPi));
  for (int index = now - 1; index <= now + 2; ++index) {
    const auto held = window(index);
    if (held.from_rad == held.to_rad) continue;
    if (held.from_rad > after_rad) next = std::min(next, held.from_rad);
    if (held.to_rad > after_rad) next = std::min(next, held.to_rad);
  }
  return next;
}

}  // namespace emberline::plant
