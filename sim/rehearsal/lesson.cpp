#include "sim/rehearsal/lesson.hpp"

#include <cassert>
#include <utility>

#include "sim/rehearsal/judge_words.hpp"

namespace emberline::rehearsal {
namespace {

/// Of lines that the lesson itself adds to what happened.
constexpr const char* kSubject = "lesson";

}  // namespace

Lesson::Lesson(const std::vector<LessonStep>& steps) : steps_(steps), chosen_(steps.size()) {
  assert(!steps.empty());
  enter(0);
}

void Lesson::enter(std::size_t step) {
  place_ = step;
  phase_ = steps_[step].question.empty() ? Phase::read : Phase::predict;
  happened_.clear();
}

Result<LessonOrder, std::string> Lesson::next() {
  if (done_) return Failure{std::string("the lesson is over: it can only be started over")};
  if (phase_ == Phase::watch)
    return Failure{"the bench is being watched, " + words_of_watch(step()) + ": then it goes on"};
  if (phase_ == Phase::predict && !chosen_[place_])
    return Failure{std::string("first a prediction: choose one of the answers, then it goes on")};
  const bool before = phase_ != Phase::told;
  if (before && step().acts()) {
    phase_ = Phase::watch;
    return LessonOrder{place_, false};
  }
  if (before && !step().question.empty()) {
    phase_ = Phase::told;
    return LessonOrder{};
  }
  if (place_ + 1 < steps_.size()) {
    enter(place_ + 1);
    return LessonOrder{};
  }
  phase_ = Phase::told;
  done_ = true;
  return LessonOrder{std::nullopt, true};
}

Result<Done, std::string> Lesson::predict(std::int64_t answer) {
  if (phase_ != Phase::predict) return Failure{std::string("there is nothing to predict at the moment")};
  const auto answers = static_cast<std::int64_t>(step().answers.size());
  if (answer < 1 || answer > answers)
    return Failure{"answer: expected a whole number from 1 to " + std::to_string(answers) + ", found " +
                   std::to_string(answer)};
  chosen_[place_] = static_cast<std::size_t>(answer - 1);
  return Done{};
}

bool Lesson::watches(std::size_t step) const { return phase_ == Phase::watch && place_ == step; }

void Lesson::happened(std::size_t step, const bench::Journal::Entry& entry) {
  if (watches(step)) happened_.push_back(entry);
}

void Lesson::came(std::size_t step) {
  if (watches(step)) phase_ = Phase::told;
}

void Lesson::ran_out(std::size_t step, SimTime at) {
  if (!watches(step)) return;
  const auto& until = this->step().until;
  bench::Journal::Entry entry;
  entry.at = at;
  entry.subject = kSubject;
  entry.by_action = true;  // what was waited for may tell a blind class what was done
  entry.sentence = (until ? until->text : std::string("what was waited for")) + " did not come within " +
                   words_of(this->step().within);
  happened_.push_back(std::move(entry));
  phase_ = Phase::told;
}

bool Lesson::revealed(std::size_t step) const {
  return !steps_[step].question.empty() && (step < place_ || (step == place_ && phase_ == Phase::told));
}

std::optional<std::string> Lesson::button() const {
  if (done_ || phase_ == Phase::watch || (phase_ == Phase::predict && !chosen_[place_])) return std::nullopt;
  if (phase_ != Phase::told && step().acts()) return step().button.empty() ? "Go on" : step().button;
  if (phase_ == Phase::predict) return "Show the answer";
  return place_ + 1 < steps_.size() ? "Next step" : "Finish";
}

std::optional<std::string> Lesson::watching() const {
  if (phase_ != Phase::watch) return std::nullopt;
  return words_of_watch(step());
}

Lesson::Score Lesson::score() const {
  Score score;
  for (std::size_t i = 0; i < steps_.size(); ++i) {
    if (!revealed(i)) continue;
    ++score.asked;
    if (chosen_[i] == steps_[i].right) ++score.right;
  }
  return score;
}

std::string words_of_watch(const LessonStep& step) {
  if (step.until) return "until " + step.until->text;
  return "for " + words_of(step.watch.value_or(kWatchedAnyway));
}

}  // namespace emberline::rehearsal
