#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/rehearsal/scenario_spec.hpp"
#include "sim/rehearsal/verdict.hpp"

namespace emberline::rehearsal {

/// Holds the expectations of a scenario against the running bench. Looked at after every instant at which
/// anything happened and at every instant of the grid. Meaning:
///  - an interval runs from its anchor, included, to just before `until`, or to the end of the run, included;
///  - `that` (within): true at some instant of the interval, at none before anchor + not_before, and by
///  anchor + within;
///    being true already counts unless it has to become true;
///  - `always`: true at every instant of the interval; `never`: true at none;
///  - `first_write`: the first write of the point in the interval, by any master, refused or not, asked for
///  such a value.
/// Nothing passes by silence: an anchor that never comes, a write that is never made or a run that ends first
/// is "could not be judged".
class Judge final : public bench::EventSource {
 public:
  /// The scenario and the bench must outlive the judge.
  Judge(const ScenarioSpec& scenario, const bench::Bench& bench);

  [[nodiscard]] std::optional<SimTime> next() const override;
  void run(SimTime now) override;
  /// To be told of every write that reaches a unit.
  void write_seen(const unit::WriteSeen& write);
  /// The run is over: what is still open is decided now.
  [[nodiscard]] std::vector<Outcome> finish(SimTime now);

 private:
  struct Case {
    const Expectation* expectation;
    std::optional<SimTime> from;   ///< nothing: the anchor never comes
    std::optional<SimTime> until;  ///< nothing: the end of the run
    bool until_missing = false;    ///< `until` is asked for, but never comes
    std::optional<SimTime> deadline;
    bool held_before = true;  ///< at the instant before; true until the first look, so that a start does not
                              ///< count as becoming
    std::optional<Outcome> outcome;
  };
  void look(Case& item, SimTime now);
  void look_within(Case& item, SimTime now, bool all);
  void look_interval(Case& item, SimTime now, bool all);
  void close_interval(Case& item, SimTime now);
  void decide(Case& item, Outcome::Result result, SimTime at, std::string sentence);
  [[nodiscard]] bool all_hold(const Expectation& expectation, SimTime now) const;
  [[nodiscard]] std::string values_of(const Expectation& expectation, SimTime now) const;
  [[nodiscard]] Outcome end_of(Case& item, SimTime now) const;

  const bench::Bench& bench_;
  SimTime ends_;  ///< when the run is meant to end
  std::vector<Case> cases_;
  SimTime looked_at_{Duration{-1}};
};

/// When an anchor comes, by the timeline of its scenario; nothing if it never does.
[[nodiscard]] std::optional<SimTime> time_of(const Anchor& anchor, const ScenarioSpec& scenario);

}  // namespace emberline::rehearsal
