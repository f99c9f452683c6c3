#pragma once

#include <optional>
#include <vector>

#include "sim/base/sim_time.hpp"

namespace emberline::io {

/// How long a bench takes to recover: from the instant a unit that delivered stops delivering until all that
/// stopped since deliver again. The last recovery stays to be looked at. As exact as snapshots are frequent.
class Recovery {
 public:
  /// What is looked at of one unit.
  struct Unit {
    bool delivers = false;  ///< its state lets it: running, holding or preset
    bool output = false;    ///< and its output is above 0
  };
  void look(SimTime at, const std::vector<Unit>& units);
  /// The first of them has stopped; nothing: none ever did.
  [[nodiscard]] std::optional<SimTime> lost_at() const { return lost_at_; }
  /// All of them deliver again; nothing: not yet.
  [[nodiscard]] std::optional<SimTime> back_at() const { return back_at_; }
  /// From lost_at() to back_at(), or until now.
  [[nodiscard]] std::optional<Duration> length(SimTime now) const;
  /// Which units stopped, by their place.
  [[nodiscard]] const std::vector<std::size_t>& units() const { return stopped_; }

 private:
  std::optional<SimTime> lost_at_;
  std::optional<SimTime> back_at_;
  std::vector<std::size_t> stopped_;
  std::vector<bool> delivered_;
};

}  // namespace emberline::io
