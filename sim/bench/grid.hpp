#pragma once

#include <cstdint>
#include <optional>

#include "sim/base/sim_time.hpp"

namespace emberline::bench {

/// When the bench moves on: whole mains cycles from 0. Every cycle while anything electrical is under way,
/// else every n-th with n cycles at most 100 ms; fine again from the next whole cycle after a disturbance.
class Grid {
 public:
  explicit Grid(double frequency_Hz);
  [[nodiscard]] SimTime next() const { return time_of(next_cycle_); }
  /// The instant next() has been run; `fine` says whether something is still under way.
  void ran(bool fine);
  /// Something happened at `at`: the next whole cycle is an instant of the grid.
  void disturbed(SimTime at);

 private:
  [[nodiscard]] SimTime time_of(std::int64_t cycle) const;

  double frequency_Hz_;
  std::int64_t coarse_;  ///< cycles of a coarse step
  std::int64_t next_cycle_ = 0;
  std::int64_t last_cycle_ = -1;
};

}  // namespace emberline::bench
