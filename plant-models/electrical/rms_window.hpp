#pragma once

#include <array>
#include <cassert>
#include <chrono>
#include <cstddef>
#include <deque>

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
    const bool same = !stretches_.empty() && stretches_.back().values == values;
    if (same) {
      stretches_.back().length += length;
    } else {
      stretches_.push_back({length, values});
    }
    held_ += length;
    while (held_ - stretches_.front().length >= window_) {
      held_ -= stretches_.front().length;
      stretches_.pop_front();
    }
    return !same;
  }

  /// True when nothing has changed for as long as the window: the mean is the last stretch.
  [[nodiscard]] bool uniform() const { return stretches_.size() == 1 && held_ >= window_; }
  /// The mean over the window that ends with the last stretch.
  [[nodiscard]] Values mean() const {
    if (uniform()) return stretches_.front().values;
    Values sum{};
    auto left = window_;
    for (auto stretch = stretches_.rbegin(); stretch != stretches_.rend() && left.count() > 0; ++stretch) {
      const auto used = stretch->length < left ? stretch->length : left;
      const double weight = static_cast<double>(used.count()) / static_cast<double>(window_.count());
      for (std::size_t channel = 0; channel < Channels; ++channel)
        sum[channel] += weight * stretch->values[channel];
      left -= used;
    }
    return sum;
  }

 private:
  struct Stretch {
    std::chrono::nanoseconds length;
    Values values;
  };
  std::chrono::nanoseconds window_;
  std::chrono::nanoseconds held_{};
  std::deque<Stretch> stretches_;
};

}  // namespace emberline::plant
