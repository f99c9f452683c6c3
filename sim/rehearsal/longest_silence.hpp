#pragma once

#include "sim/base/sim_time.hpp"

namespace emberline::rehearsal {

/// The longest time in which nothing was heard, between two that were heard or at the ends of an interval.
class LongestSilence {
 public:
  struct Stretch {
    SimTime from{};
    SimTime to{};
    [[nodiscard]] Duration length() const { return to - from; }
  };
  /// It is listened to from here on; the start of the run unless it is called.
  void begin(SimTime at) {
    since_ = at;
    longest_ = {at, at};
  }
  void heard(SimTime at) {
    longest_ = until(at);
    since_ = at;
  }
  /// Of those that are over the first of the longest.
  [[nodiscard]] const Stretch& over() const { return longest_; }
  /// The same, if the one that lasts is over at `end`.
  [[nodiscard]] Stretch until(SimTime end) const {
    return end - since_ > longest_.length() ? Stretch{since_, end} : longest_;
  }
  /// Since when nothing has been heard.
  [[nodiscard]] SimTime since() const { return since_; }

 private:
  SimTime since_{};
  Stretch longest_{};
};

}  // namespace emberline::rehearsal
