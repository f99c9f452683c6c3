#include "sim/io/panel/lesson_run.hpp"

#include <mutex>
#include <utility>

#include "sim/io/panel/lesson_json.hpp"

namespace emberline::io {

using rehearsal::Lesson;

/// The lesson itself is small and pure: both threads move it under one mutex, and only the order to the bench
/// is posted.
class LessonRun::Impl {
 public:
  explicit Impl(const rehearsal::ScenarioSpec& scenario)
      : scenario_(scenario), lesson_(std::make_unique<Lesson>(scenario.lesson)) {}

  void attach(rehearsal::Rehearsal& rehearsal, Reach reach);
  void detach();
  [[nodiscard]] bool starts_over() const {
    const std::lock_guard lock(mutex_);
    return starts_over_;
  }
  [[nodiscard]] std::string state_json(bool hidden) const {
    // The bench waits for the mutex at each entry of its journal, so the text is made without it.
    std::unique_lock lock(mutex_);
    const Lesson lesson = *lesson_;
    const auto outcomes = outcomes_;
    const auto version = version_;
    lock.unlock();
    return lesson_json({scenario_, lesson, outcomes, version, hidden});
  }
  [[nodiscard]] std::uint64_t version() const {
    const std::lock_guard lock(mutex_);
    return version_;
  }
  Result<Done, std::string> told(const LessonWord& word);
  [[nodiscard]] Summary summary() const;

 private:
  /// What one run of the bench tells. A run that has been left is not listened to any more.
  class Listener final : public rehearsal::LessonListener {
   public:
    Listener(Impl& impl, std::uint64_t run) : impl_(impl), run_(run) {}
    void happened(std::size_t step, const bench::Journal::Entry& entry) override {
      hear([&] { impl_.lesson_->happened(step, entry); });
    }
    void came(std::size_t step) override {
      hear([&] { impl_.lesson_->came(step); });
    }
    void ran_out(std::size_t step, SimTime at) override {
      hear([&] { impl_.lesson_->ran_out(step, at); });
    }
    void judged(std::vector<rehearsal::Outcome> outcomes) override {
      hear([&] { impl_.outcomes_ = std::move(outcomes); });
    }

   private:
    template <class Change>
    void hear(Change&& change) {
      const std::lock_guard lock(impl_.mutex_);
      if (impl_.run_ != run_ || impl_.starts_over_) return;
      change();
      ++impl_.version_;
    }
    Impl& impl_;
    std::uint64_t run_;
  };

  Result<Done, std::string> next();
  void restart();

  const rehearsal::ScenarioSpec& scenario_;
  mutable std::mutex mutex_;
  std::unique_ptr<Lesson> lesson_;
  std::vector<rehearsal::Outcome> outcomes_;
  std::uint64_t version_ = 1;
  std::uint64_t run_ = 0;  ///< how many there have been
  bool starts_over_ = false;
  rehearsal::Rehearsal* rehearsal_ = nullptr;  ///< touched on its bench's thread only
  Reach reach_;
  std::unique_ptr<Listener> listener_;
};

void LessonRun::Impl::attach(rehearsal::Rehearsal& rehearsal, Reach reach) {
  const std::lock_guard lock(mutex_);
  if (run_ > 0) {  // another bench knows nothing of what was done to the one before
    lesson_ = std::make_unique<Lesson>(scenario_.lesson);
    outcomes_.clear();
  }
  ++run_;
  ++version_;
  starts_over_ = false;
  rehearsal_ = &rehearsal;
  reach_ = std::move(reach);
  listener_ = std::make_unique<Listener>(*this, run_);
  rehearsal.open_as_lesson(*listener_);
}

void LessonRun::Impl::detach() {
  const std::lock_guard lock(mutex_);
  rehearsal_ = nullptr;
  reach_ = {};
}

Result<Done, std::string> LessonRun::Impl::told(const LessonWord& word) {
  const std::lock_guard lock(mutex_);
  if (starts_over_ || rehearsal_ == nullptr)
    return Failure{std::string("the bench is being started; try again in a second")};
  if (const auto* prediction = std::get_if<LessonPrediction>(&word)) {
    auto taken = lesson_->predict(prediction->answer);
    if (taken) ++version_;
    return taken;
  }
  if (std::holds_alternative<LessonNext>(word)) return next();
  restart();
  return Done{};
}

Result<Done, std::string> LessonRun::Impl::next() {
  const auto order = lesson_->next();
  if (!order) return Failure{order.error()};
  ++version_;
  if (order->step) {
    reach_.post(
        [rehearsal = rehearsal_, step = *order->step](SimTime at) { rehearsal->begin_step(step, at); });
  } else if (order->judge) {
    reach_.post([rehearsal = rehearsal_](SimTime) { rehearsal->judge_lesson(); });
  }
  return Done{};
}

void LessonRun::Impl::restart() {
  lesson_ = std::make_unique<Lesson>(scenario_.lesson);
  outcomes_.clear();
  starts_over_ = true;
  ++version_;
  reach_.start_over();
}

LessonRun::Summary LessonRun::Impl::summary() const {
  const std::lock_guard lock(mutex_);
  return {lesson_->place() + 1,     lesson_->steps().size(), lesson_->done(),
          scenario_.lesson_is_made, lesson_->score(),        outcomes_};
}

LessonRun::LessonRun(const rehearsal::ScenarioSpec& scenario) : impl_(std::make_unique<Impl>(scenario)) {}
LessonRun::~LessonRun() = default;
void LessonRun::attach(rehearsal::Rehearsal& rehearsal, Reach reach) {
  impl_->attach(rehearsal, std::move(reach));
}
void LessonRun::detach() { impl_->detach(); }
bool LessonRun::starts_over() const { return impl_->starts_over(); }
std::string LessonRun::state_json(bool hidden) const { return impl_->state_json(hidden); }
std::uint64_t LessonRun::version() const { return impl_->version(); }
LessonRun::Summary LessonRun::summary() const { return impl_->summary(); }

Result<Done, std::string> LessonRun::told(const std::string& json) {
  const auto word = lesson_word(json);
  if (!word) return Failure{word.error()};
  return impl_->told(*word);
}

}  // namespace emberline::io
