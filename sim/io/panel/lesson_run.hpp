#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "sim/io/panel/lesson_desk.hpp"
#include "sim/rehearsal/lesson.hpp"
#include "sim/rehearsal/rehearsal.hpp"

namespace emberline::io {

/// A lesson that is walked through on a bench, or on one after the other when it starts over. The trainer's
/// words move it on the panel's thread; what they ask of the bench, and what the bench shows, goes over the
/// bench's. Neither waits for the other.
class LessonRun final : public LessonDesk {
 public:
  /// `scenario`, which rehearsal::as_lesson() made, must outlive this.
  explicit LessonRun(const rehearsal::ScenarioSpec& scenario);
  ~LessonRun() override;

  /// How the lesson reaches a bench that runs.
  struct Reach {
    /// Calls a task on the bench's thread, at its time, between instants; from any thread.
    std::function<void(std::function<void(SimTime)>)> post;
    /// Ends this bench's run, because the lesson starts over: whoever runs it makes another; from any thread.
    std::function<void()> start_over;
  };
  /// This rehearsal of the scenario runs from now on. On its bench's thread, before the loop runs; it must
  /// stay until detach().
  void attach(rehearsal::Rehearsal& rehearsal, Reach reach);
  /// It has ended: nothing of it is touched any more.
  void detach();
  /// The lesson is to be started over, and no bench has been attached since. From any thread.
  [[nodiscard]] bool starts_over() const;

  [[nodiscard]] std::string state_json(bool hidden) const override;
  [[nodiscard]] std::uint64_t version() const override;
  [[nodiscard]] Result<Done, std::string> told(const std::string& json) override;

  /// How it stands, for a summary.
  struct Summary {
    std::size_t place = 0;  ///< steps that have begun
    std::size_t of = 0;
    bool done = false;
    bool made = false;  ///< of a scenario that was not written as a lesson: nobody judges it
    rehearsal::Lesson::Score score;
    std::vector<rehearsal::Outcome> outcomes;  ///< empty: not judged yet
  };
  [[nodiscard]] Summary summary() const;

 private:
  class Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace emberline::io
