#pragma once

#include <algorithm>
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
    const bool same = first_ < stretches_.size() && last().values == values;
    if (!same) stretches_.push_back({std::chrono::nanoseconds{}, take(values)});
    stretches_.back().length += length;
    patterns_[stretches_.back().pattern].held += length;
    held_ += length;
    while (held_ - stretches_[first_].length >= window_) drop_first();
    if (2 * first_ > stretches_.size()) forget_the_past();
    return !same;
  }

  /// True when nothing has changed for as long as the window: the mean is the last stretch.
  [[nodiscard]] bool uniform() const { return stretches_.size() == first_ + 1 && held_ >= window_; }
  /// The mean over the window that ends with the last stretch.
  [[nodiscard]] Values mean() const {
    if (uniform()) return last().values;
    Values sum{};
    if (first_ == stretches_.size()) return sum;
    // Of the oldest stretch a part may lie before the window.
    const auto before = held_ > window_ ? held_ - window_ : std::chrono::nanoseconds{};
    const std::size_t oldest = stretches_[first_].pattern;
    for (std::size_t index = 0; index < patterns_.size(); ++index) {
      const Pattern& pattern = patterns_[index];
      const auto inside = index == oldest ? pattern.held - before : pattern.held;
      if (inside.count() <= 0) continue;
      const double weight = static_cast<double>(inside.count()) / static_cast<double>(window_.count());
      for (std::size_t channel = 0; channel < Channels; ++channel)
        sum[channel] += weight * pattern.values[channel];
    }
    return sum;
  }

 private:
  /// Values that stretches of the window have, and for how long together: the cycles of a burst have two.
  struct Pattern {
    Values values;
    std::chrono::nanoseconds held{};  ///< 0: nobody has them any more
  };
  struct Stretch {
    std::chrono::nanoseconds length;
    std::size_t pattern;
  };
  [[nodiscard]] const Pattern& last() const { return patterns_[stretches_.back().pattern]; }

  /// The place of these values among the patterns. They are looked for among the latest stretches only: the
  /// cycles of a burst take turns, and where every stretch differs there may be thousands.
  std::size_t take(const Values& values) {
    constexpr std::size_t kLatest = 4;
    const std::size_t all = stretches_.size() - first_;
    for (std::size_t back = 1; back <= std::min(kLatest, all); ++back) {
      const std::size_t place = stretches_[stretches_.size() - back].pattern;
      if (patterns_[place].values == values) return place;
    }
    std::size_t place = patterns_.size();
    if (free_.empty()) {
      patterns_.emplace_back();
    } else {
      place = free_.back();
      free_.pop_back();
    }
    patterns_[place].values = values;
    return place;
  }
  void drop_first() {
    const Stretch& stretch = stretches_[first_];
    Pattern& pattern = patterns_[stretch.pattern];
    pattern.held -= stretch.length;
    if (pattern.held.count() == 0) free_.push_back(stretch.pattern);
    held_ -= stretch.length;
    ++first_;
  }
  void forget_the_past() {
    stretches_.erase(stretches_.begin(), stretches_.begin() + static_cast<std::ptrdiff_t>(first_));
    first_ = 0;
  }

  std::chrono::nanoseconds window_;
  std::chrono::nanoseconds held_{};
  std::vector<Stretch> stretches_;
  std::size_t first_ = 0;  ///< of them inside the window; those before it go now and then, many at once
  std::vector<Pattern> patterns_;
  std::vector<std::size_t> free_;  ///< patterns that nobody has
};

}  // namespace emberline::plant
