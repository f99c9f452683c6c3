#include "sim/io/panel/recovery.hpp"

#include <algorithm>

namespace emberline::io {

void Recovery::look(SimTime at, const std::vector<Unit>& units) {
  delivered_.resize(units.size(), false);
  for (std::size_t u = 0; u < units.size(); ++u) {
    if (delivered_[u] && !units[u].delivers) {
      if (!lost_at_ || back_at_) {
        lost_at_ = at;
        back_at_.reset();
        stopped_.clear();
      }
      if (std::find(stopped_.begin(), stopped_.end(), u) == stopped_.end()) stopped_.push_back(u);
    }
    // A master that asks for nothing has not lost its unit.
    delivered_[u] = units[u].delivers && units[u].output;
  }
  if (!lost_at_ || back_at_) return;
  const bool all_back = std::all_of(stopped_.begin(), stopped_.end(), [&](std::size_t u) {
    return u < units.size() && units[u].delivers && units[u].output;
  });
  if (all_back) back_at_ = at;
}

std::optional<Duration> Recovery::length(SimTime now) const {
  if (!lost_at_) return std::nullopt;
  return back_at_.value_or(now) - *lost_at_;
}

}  // namespace emberline::io
