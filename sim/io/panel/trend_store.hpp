#pragma once

#include <cstdint>
#include <deque>
#include <span>
#include <vector>

#include "sim/base/sim_time.hpp"

namespace emberline::io {

/// What all signals of a bench were in the last half hour, about four times a second. A value that stays the
/// same is kept once. On the panel's thread.
class TrendStore {
 public:
  static constexpr Duration kKept = std::chrono::minutes{30};
  /// Values that come closer to the ones before are passed over.
  static constexpr Duration kStep = std::chrono::milliseconds{190};

  explicit TrendStore(std::size_t signals) : columns_(signals) {}
  /// `values`: one for each signal. Times do not go back.
  void take(SimTime at, std::span<const double> values);

  struct Trend {
    std::vector<SimTime> at;
    std::vector<std::vector<double>> values;  ///< by signal asked for, then by instant
  };
  /// The signals with these places over the last `length` before the newest instant; where that is more than
  /// `most` instants, every n-th of them, the newest among them.
  [[nodiscard]] Trend last(std::span<const std::size_t> signals, Duration length, std::size_t most) const;

 private:
  struct Change {
    std::uint64_t row;
    double value;
  };
  void forget_old();

  std::deque<SimTime> rows_;
  std::uint64_t first_row_ = 0;  // number of rows_.front()
  std::vector<std::deque<Change>> columns_;
};

}  // namespace emberline::io
