#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/result.hpp"
#include "sim/bench/journal.hpp"
#include "sim/rehearsal/scenario_spec.hpp"

namespace emberline::rehearsal {

/// What the trainer's word asks of the bench.
struct LessonOrder {
  std::optional<std::size_t> step;  ///< this step's entries happen now, and it is watched
  bool judge = false;               ///< the last step is through: the verdict is due
};

/// Where a lesson stands. Moved by the trainer's words and by what was seen on the bench, whoever sees it; no
/// clock, no bench.
class Lesson {
 public:
  /// Of a step: `read` what is said; `predict`: the same, and a question that needs an answer before it goes
  /// on; `watch` the bench; `told` what happened, and which answer was right.
  enum class Phase : std::uint8_t { read, predict, watch, told };

  /// `steps` must outlive the lesson, and there is one at least.
  explicit Lesson(const std::vector<LessonStep>& steps);

  /// Goes on. The error is one line for the trainer: what has to come first.
  [[nodiscard]] Result<LessonOrder, std::string> next();
  /// The class thinks it is answer number `answer`, counted from 1. It may think again until it goes on. The
  /// error is one line.
  [[nodiscard]] Result<Done, std::string> predict(std::int64_t answer);
  /// The journal has this, too, since step number `step` went on. Left alone unless that one is watched.
  void happened(std::size_t step, const bench::Journal::Entry& entry);
  /// What step number `step` waited for has come.
  void came(std::size_t step);
  /// It has not, and the time for it is over: a line among what happened says so.
  void ran_out(std::size_t step, SimTime at);

  [[nodiscard]] const std::vector<LessonStep>& steps() const { return steps_; }
  /// The step that is on, counted from 0.
  [[nodiscard]] std::size_t place() const { return place_; }
  [[nodiscard]] const LessonStep& step() const { return steps_[place_]; }
  [[nodiscard]] Phase phase() const { return phase_; }
  /// All steps are through.
  [[nodiscard]] bool done() const { return done_; }
  /// The answer that the class chose for a step, counted from 0.
  [[nodiscard]] std::optional<std::size_t> chosen(std::size_t step) const { return chosen_[step]; }
  /// Whether the class has been told which answer of a step is right.
  [[nodiscard]] bool revealed(std::size_t step) const;
  /// What the journal said since the step that is on went on.
  [[nodiscard]] const std::vector<bench::Journal::Entry>& happened() const { return happened_; }
  /// What next() does, for a button; nothing while the bench is watched, before a prediction, and at the end.
  [[nodiscard]] std::optional<std::string> button() const;
  /// "until soak-heater.state inhibited", while the bench is watched.
  [[nodiscard]] std::optional<std::string> watching() const;

  /// How many predictions came true, of those that have been told.
  struct Score {
    int right = 0;
    int asked = 0;
  };
  [[nodiscard]] Score score() const;

 private:
  void enter(std::size_t step);
  [[nodiscard]] bool watches(std::size_t step) const;

  const std::vector<LessonStep>& steps_;
  std::vector<std::optional<std::size_t>> chosen_;
  std::size_t place_ = 0;
  Phase phase_ = Phase::read;
  bool done_ = false;
  std::vector<bench::Journal::Entry> happened_;
};

/// "until soak-heater.state inhibited", "for 8 s": what a step that acts waits for.
[[nodiscard]] std::string words_of_watch(const LessonStep& step);

/// A scenario as it is opened as a lesson: without steps of its own it gets one for each entry of its
/// timeline, in their order; and it has no end.
[[nodiscard]] ScenarioSpec as_lesson(ScenarioSpec scenario);

}  // namespace emberline::rehearsal
