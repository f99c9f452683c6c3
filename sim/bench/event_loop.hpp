#pragma once

#include <array>
#include <optional>
#include <vector>

#include "sim/base/sim_time.hpp"

namespace emberline::bench {

/// Something that makes things happen at instants it knows in advance.
class EventSource {
 public:
  virtual ~EventSource() = default;
  /// The next instant at which run() has something to do; nothing if never.
  [[nodiscard]] virtual std::optional<SimTime> next() const = 0;
  /// Does all that is due at `now`; afterwards next() is later than `now`, or `now` again if more came due
  /// meanwhile.
  virtual void run(SimTime now) = 0;
};

/// The order of what falls on one instant.
enum class Rank : std::uint8_t { frames, timers, timeline, stand_ins, grid, expectations };

/// Moves simulated time from event to event. At one instant the sources run in the order of their ranks, then
/// in the order they were added. What an instant causes at that same instant is taken in a further round;
/// grid and expectations come when nothing else is left. Expectations are looked at after every instant at
/// which anything ran; what they bring about at that instant goes round again, and they are looked at anew.
class EventLoop {
 public:
  void add(Rank rank, EventSource& source);
  /// Runs everything up to and including `end`, then stands at `end`.
  void run_through(SimTime end);
  /// Runs everything before `end` and stands at `end` without having run what is due there. For wall time:
  /// bytes that came at `end` are handed in next, then run_through(end) finishes the instant.
  void run_before(SimTime end);
  /// Stands at `end`, which is later. Nothing is due before it: so next() has said, and nothing has been run
  /// or touched since.
  void stand_at(SimTime end) { now_ = end; }
  /// Something from outside changed the bench at now(): expectations are to be looked at by the next
  /// run_through.
  void touched();
  [[nodiscard]] SimTime now() const { return now_; }
  /// The next instant at which any source has something to do.
  [[nodiscard]] std::optional<SimTime> next() const;

 private:
  bool run_rank(Rank rank, SimTime at);
  void settle(SimTime at);
  [[nodiscard]] bool due(Rank rank, SimTime at) const;
  void run_instant(SimTime at);

  std::array<std::vector<EventSource*>, 6> sources_;
  SimTime now_{};
  bool touched_ = true;
};

}  // namespace emberline::bench
