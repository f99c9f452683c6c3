#include "plant-models/electrical/circuit_gate.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace emberline::plant {
namespace {
constexpr double kPi = std::numbers::pi;
constexpr double kTurn = 2.0 * kPi;
}  // namespace

Gate::Gate(double reference_rad, double firing_rad, double least_width_rad, std::optional<double> first_rad) {
  const int before = static_cast<int>(std::floor(-reference_rad / kPi)) - 1;
  for (int index = before; index < before + static_cast<int>(windows_.size()); ++index) {
    const double zero_rad = reference_rad + kPi * index;
    const bool first = first_rad && zero_rad > -1e-9 && zero_rad < kPi - 1e-9;
    const double firing = first ? *first_rad : firing_rad;
    if (firing >= kPi) continue;
    const Window held{zero_rad + firing, zero_rad + std::max(kPi, firing + least_width_rad),
                      index % 2 == 0 ? 1 : -1};
    if (held.to_rad > 0.0 && held.from_rad < kTurn) windows_[count_++] = held;
  }
}

bool Gate::permits(int direction, double at_rad) const {
  for (std::size_t w = 0; w < count_; ++w)
    if (windows_[w].direction == direction && at_rad >= windows_[w].from_rad && at_rad < windows_[w].to_rad)
      return true;
  return false;
}

double Gate::next_edge(double after_rad) const {
  double next = kTurn;
  for (std::size_t w = 0; w < count_; ++w) {
    if (windows_[w].from_rad > after_rad) next = std::min(next, windows_[w].from_rad);
    if (windows_[w].to_rad > after_rad) next = std::min(next, windows_[w].to_rad);
  }
  return next;
}

}  // namespace emberline::plant
