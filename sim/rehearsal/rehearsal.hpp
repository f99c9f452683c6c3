#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>

#include "sim/bench/bench.hpp"
#include "sim/bench/event_loop.hpp"
#include "sim/rehearsal/judge.hpp"
#include "sim/rehearsal/lesson_watch.hpp"
#include "sim/rehearsal/master_watch.hpp"
#include "sim/rehearsal/moments.hpp"
#include "sim/rehearsal/scenario_spec.hpp"
#include "sim/rehearsal/timeline.hpp"
#include "sim/rehearsal/trends.hpp"
#include "sim/rehearsal/verdict.hpp"

namespace emberline::rehearsal {

/// A scenario being run: its bench, its timeline and its judge in one event loop. Whoever runs it adds the
/// masters, moves the loop on to scenario().ends and then asks for the verdict.
class Rehearsal {
 public:
  /// `scenario` must outlive the rehearsal.
  Rehearsal(const ScenarioSpec& scenario, std::uint64_t seed, bench::Bench::Options options);
  Rehearsal(const Rehearsal&) = delete;
  Rehearsal& operator=(const Rehearsal&) = delete;

  [[nodiscard]] const ScenarioSpec& scenario() const { return scenario_; }
  [[nodiscard]] bench::Bench& bench() { return bench_; }
  [[nodiscard]] bench::EventLoop& loop() { return loop_; }
  /// From now on entries with `ask` are left to a human: `ask` is told the number of each in
  /// scenario().timeline when it falls due, and the entry has happened when done_by_human() says so; the
  /// bench does not carry its action out.
  void leave_to_human(std::function<void(std::size_t entry)> ask);
  /// The human has done what entry number `entry` asks for. Call between instants of the loop, at its time.
  void done_by_human(std::size_t entry, SimTime at);
  /// Masters come over real lines, where nobody knows their names: what is expected of the only stand-in by
  /// its name is expected of whoever comes, of one of several it could not be judged. Call before the loop
  /// runs.
  void let_any_master_count() { judge_.let_any_master_count(); }
  /// From now on it is a lesson: entries of the timeline that a step names happen only with that step. Its
  /// scenario is one that as_lesson() made. Before the loop runs; `listener` must outlive the rehearsal.
  void open_as_lesson(LessonListener& listener);
  /// Step number `step` of the lesson goes on. Call between instants of the loop, at its time.
  void begin_step(std::size_t step, SimTime at);
  /// The lesson's steps are through: the listener is told how its expectations ended, and the bench goes on.
  /// In place of verdict(), once. Call between instants of the loop.
  void judge_lesson();
  /// Judges what is still open as of now and tells how it went. `transactions`: requests the stand-ins sent.
  [[nodiscard]] Verdict verdict(std::uint64_t transactions);

 private:
  const ScenarioSpec& scenario_;
  std::uint64_t seed_;
  bench::Bench bench_;
  Moments moments_;
  Timeline timeline_;
  Judge judge_;
  MasterWatch watch_;
  TrendRecorder trends_;
  std::unique_ptr<LessonWatch> lesson_;
  bench::EventLoop loop_;
};

}  // namespace emberline::rehearsal
