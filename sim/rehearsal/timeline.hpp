#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/rehearsal/evidence.hpp"
#include "sim/rehearsal/moments.hpp"
#include "sim/rehearsal/scenario_spec.hpp"

namespace emberline::rehearsal {

/// Carries out the entries of a scenario's timeline, each when its time or what it waits for has come; those
/// of one instant in the order of the file. An entry that waits for what is seen at some instant acts at that
/// very instant.
class Timeline final : public bench::EventSource {
 public:
  /// All must outlive this.
  Timeline(const std::vector<TimelineEntry>& entries, bench::Bench& bench, Moments& moments);

  [[nodiscard]] std::optional<SimTime> next() const override;
  void run(SimTime now) override;

  /// From now on `ask` is told the number of each entry with `ask` when it falls due, and the entry happens
  /// when done_by_human() says so; the bench does not carry its action out.
  void leave_to_human(std::function<void(std::size_t entry)> ask) { ask_ = std::move(ask); }
  /// The human does what was asked for, and has said so as they began: that is the entry's moment. Anything
  /// that was not asked for, or is done already, is left alone.
  void done_by_human(std::size_t entry, SimTime at);
  /// This entry does not happen by itself: it waits for let_happen(). Before the run.
  void hold_back(std::size_t entry);
  /// It happens now, and its action is carried out, whatever its moment. Once; any that was not held back is
  /// left alone.
  void let_happen(std::size_t entry, SimTime now);
  /// The run is over: the journal gets a line on each entry whose moment never came.
  void finish(SimTime now);
  /// What happened, in the order of time.
  [[nodiscard]] const std::vector<Mark>& marks() const { return marks_; }

 private:
  enum class State : std::uint8_t { waits, held_back, asked, happened };
  struct Item {
    Moments::Id moment;
    State state = State::waits;
  };
  [[nodiscard]] std::optional<std::size_t> first_due(SimTime now) const;
  void fall_due(std::size_t entry, SimTime now);
  void happen(std::size_t entry, SimTime at, bool by_human);
  /// "cut field", or what a human is asked to do.
  [[nodiscard]] std::string words_of(std::size_t entry) const;

  const std::vector<TimelineEntry>& entries_;
  bench::Bench& bench_;
  Moments& moments_;
  std::vector<Item> items_;
  std::vector<Mark> marks_;
  std::function<void(std::size_t)> ask_;
  // The next due time changes rarely, and is asked for at every instant.
  mutable std::uint64_t known_as_of_ = 0;
  mutable bool stale_ = true;
  mutable std::optional<SimTime> next_;
};

}  // namespace emberline::rehearsal
