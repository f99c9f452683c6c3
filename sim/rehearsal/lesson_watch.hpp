#pragma once

#include <cstddef>
#include <functional>
#include <optional>
#include <vector>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/rehearsal/judge.hpp"
#include "sim/rehearsal/moments.hpp"
#include "sim/rehearsal/scenario_spec.hpp"
#include "sim/rehearsal/timeline.hpp"

namespace emberline::rehearsal {

/// Whoever wants to know what is seen while a lesson's bench is watched. Told by whoever moves the bench, in
/// the order of time.
class LessonListener {
 public:
  virtual ~LessonListener() = default;
  /// The journal has this, too, since step number `step` began.
  virtual void happened(std::size_t step, const bench::Journal::Entry& entry) = 0;
  /// What the step waits for has come: from now on nobody watches.
  virtual void came(std::size_t step) = 0;
  /// It has not come in time: from now on nobody watches.
  virtual void ran_out(std::size_t step, SimTime at) = 0;
  /// The lesson's expectations have been judged.
  virtual void judged(std::vector<Outcome> outcomes) = 0;
};

/// The bench's side of a lesson: makes the entries of a step happen, and watches until what it waits for
/// comes. Looks on after every instant, behind the judge.
class LessonWatch final : public bench::EventSource {
 public:
  /// All must outlive this. Entries that a step names are held back in the timeline.
  LessonWatch(const ScenarioSpec& scenario, bench::Bench& bench, Timeline& timeline, Moments& moments,
              Judge& judge, LessonListener& listener);

  /// Step number `step` goes on now. Between instants of the loop, at its time.
  void begin(std::size_t step, SimTime at);
  /// The steps are through: what is expected is judged as the bench stands at the end of this instant. Once.
  void judge() { judging_ = true; }

  [[nodiscard]] std::optional<SimTime> next() const override { return deadline_; }
  void run(SimTime now) override;

 private:
  void watch(std::size_t step, SimTime now);

  const ScenarioSpec& scenario_;
  bench::Bench& bench_;
  Timeline& timeline_;
  Moments& moments_;
  Judge& judge_;
  LessonListener& listener_;
  std::vector<std::optional<Moments::Id>> until_;  ///< for each step
  std::optional<std::size_t> step_;                ///< that is watched
  std::optional<SimTime> deadline_;                ///< when watching it ends at the latest
  std::size_t told_ = 0;                           ///< of the journal
  bool judging_ = false;
};

}  // namespace emberline::rehearsal
