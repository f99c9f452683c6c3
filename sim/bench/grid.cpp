#include "sim/bench/grid.hpp"

#include <algorithm>
#include <cmath>

namespace emberline::bench {
namespace {

constexpr double kCoarsest_s = 0.1;

}  // namespace

Grid::Grid(double frequency_Hz)
    : frequency_Hz_(frequency_Hz),
      coarse_(std::max<std::int64_t>(
          1, static_cast<std::int64_t>(std::floor(kCoarsest_s * frequency_Hz + 1e-9)))) {}

SimTime Grid::time_of(std::int64_t cycle) const {
  // Rounded from the whole, so that a cycle of 16.666... ms does not drift.
  return SimTime{Duration{std::llround(static_cast<double>(cycle) * 1e9 / frequency_Hz_)}};
}

void Grid::ran(bool fine) {
  last_cycle_ = next_cycle_;
  next_cycle_ = fine ? last_cycle_ + 1 : (last_cycle_ / coarse_ + 1) * coarse_;
}

void Grid::disturbed(SimTime at) {
  auto cycle = static_cast<std::int64_t>(std::floor(to_seconds(at) * frequency_Hz_));
  while (time_of(cycle) < at) ++cycle;
  while (cycle > 0 && time_of(cycle - 1) >= at) --cycle;
  next_cycle_ = std::min(next_cycle_, std::max(cycle, last_cycle_ + 1));
}

}  // namespace emberline::bench
