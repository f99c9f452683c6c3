#pragma once

#include <map>

#include "sim/base/sim_time.hpp"

namespace emberline::unit {

/// Lets things that can repeat every few milliseconds into the journal at a reader's pace.
class Throttle {
 public:
  static constexpr Duration kPause = std::chrono::seconds{10};
  /// True if nothing with this key was let through in the pause before `at`.
  [[nodiscard]] bool lets_through(int key, SimTime at) {
    const auto [entry, first] = last_.try_emplace(key, at);
    if (!first && at - entry->second < kPause) return false;
    entry->second = at;
    return true;
  }
  /// When the pause after the last that was let through with this key is over; the epoch if none was.
  [[nodiscard]] SimTime next(int key) const {
    const auto found = last_.find(key);
    return found == last_.end() ? SimTime{} : found->second + kPause;
  }

 private:
  std::map<int, SimTime> last_;
};

}  // namespace emberline::unit
