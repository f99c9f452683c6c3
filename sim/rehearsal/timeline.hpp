#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/rehearsal/scenario_spec.hpp"

namespace emberline::rehearsal {

/// Carries out the entries of a scenario's timeline, each at its time.
class Timeline final : public bench::EventSource {
 public:
  /// `entries` are in the order of time and must outlive this.
  Timeline(const std::vector<TimelineEntry>& entries, bench::Bench& bench)
      : entries_(entries), bench_(bench) {}
  [[nodiscard]] std::optional<SimTime> next() const override {
    return done_ < entries_.size() ? entries_[done_].when.at : std::nullopt;
  }
  void run(SimTime now) override {
    for (; done_ < entries_.size() && *entries_[done_].when.at <= now; ++done_) {
      const auto& action = *entries_[done_].action;
      faults::carry_out(bench_, action, now);
    }
  }

 private:
  const std::vector<TimelineEntry>& entries_;
  bench::Bench& bench_;
  std::size_t done_ = 0;
};

}  // namespace emberline::rehearsal
