#pragma once

#include <algorithm>
#include <chrono>
#include <optional>

namespace emberline::io {

/// So many a second and no more: up to one second's worth at once, then as they come back. Time is an
/// argument.
class Allowance {
 public:
  using Instant = std::chrono::steady_clock::time_point;
  explicit Allowance(double per_second) : per_second_(per_second), left_(per_second) {}
  /// True if there is one left; it is taken then.
  bool take(Instant now) {
    fill(now);
    if (left_ < 1.0) return false;
    left_ -= 1.0;
    return true;
  }

 private:
  void fill(Instant now) {
    const double passed = std::chrono::duration<double>(now - last_.value_or(now)).count();
    left_ = std::min(per_second_, left_ + std::max(0.0, passed) * per_second_);
    last_ = now;
  }
  double per_second_;
  double left_;
  std::optional<Instant> last_;
};

}  // namespace emberline::io
