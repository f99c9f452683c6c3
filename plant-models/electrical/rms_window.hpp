#pragma once

#include <array>
#include <cassert>
#include <chrono>
#include <cstddef>
#include <vector>

namespace emberline::plant {

/// Sliding mean over a fixed time of `Channels` values that are constant over stretches: what a true-RMS
/// meter shows when it is fed with mean squares, and a power meter when it is fed with powers. It holds
/// exactly the stretches inside the window; what lies before the first stretch counts as zero.
template <std::size_t Channels>
class SlidingMean {
 public:
  using Values = std::array<double, Channels>;
  /// `window` is above 0.
  explicit SlidingMean(std::chrono::nanoseconds window) : window_(window) { assert(window.count() > 0); }

  /// Appends a stretch of `length` during which the values were `values`. True if they differ from those of
  /// the last one, so that the mean moves from now on.
  bool append(std::chrono::nanoseconds length, const Values& values) {
    if (length.count() <= 0) return false;
    const bool same = first_ < stretches_.size() && stretches_.back().values == values;
    if (same) {
      stretches_.back().length += length;
    } else {
      stretches_.push_back({length, values});
    }
    held_ += length;
    while (held_ - stretches_[first_].length >= window_) {
      held_ -= stretches_[first_].length;
      ++first_;
    }
    if (2 * first_ > stretches_.size()) forget_the_past();
    return !same;
  }

  /// True when nothing has changed for as long as the window: the mean is the last stretch.
  [[nodiscard]] bool uniform() const { return stretches_.size() == first_ + 1 && held_ >= window_; }
  /// The mean over the window that ends with the last stretch.
  [[nodiscard]] Values mean() const {
    if (uniform()) return stretches_.back().values;
    Values sum{};
    auto left = window_;
    for (std::size_t next = stretches_.size(); next > first_ && left.count() > 0; --next) {
      const Stretch& stretch = stretches_[next - 1];
      const auto used = stretch.length < left ? stretch.length : left;
      const double weight = static_cast<double>(used.count()) / static_cast<double>(window_.count());
      for (std::size_t channel = 0; channel < Channels; ++channel)
        sum[channel] += weight * stretch.values[channel];
      left -= used;
    }
    return sum;
  }

 private:
  struct Stretch {
    std::chrono::nanoseconds length;
    Values values;
  };
  void forget_the_past() {
    stretches_.erase(stretches_.begin(), stretches_.begin() + static_cast<std::ptrdiff_t>(first_));
    first_ = 0;
  }
  std::chrono::nanoseconds window_;
  std::chrono::nanoseconds held_{};
  std::vector<Stretch> stretches_;
  std::size_t first_ = 0;  ///< of them inside the window; those before it go now and then, many at once
};

}  // namespace emberline::plant
