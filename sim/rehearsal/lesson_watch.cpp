#include "sim/rehearsal/lesson_watch.hpp"

#include <utility>

namespace emberline::rehearsal {

LessonWatch::LessonWatch(const ScenarioSpec& scenario, bench::Bench& bench, Timeline& timeline,
                         Moments& moments, Judge& judge, LessonListener& listener)
    : scenario_(scenario),
      bench_(bench),
      timeline_(timeline),
      moments_(moments),
      judge_(judge),
      listener_(listener) {
  for (const auto& step : scenario_.lesson) {
    for (const auto entry : step.does) timeline_.hold_back(entry);
    until_.push_back(step.until ? std::optional(moments_.add_unarmed(*step.until)) : std::nullopt);
  }
}

void LessonWatch::begin(std::size_t step, SimTime at) {
  const auto& what = scenario_.lesson[step];
  step_ = step;
  told_ = bench_.journal().entries().size();
  for (const auto entry : what.does) timeline_.let_happen(entry, at);
  if (until_[step]) moments_.arm(*until_[step]);
  deadline_ = at + (what.until ? what.within : what.watch.value_or(kWatchedAnyway));
}

void LessonWatch::run(SimTime now) {
  if (step_) watch(*step_, now);
  if (std::exchange(judging_, false)) listener_.judged(judge_.finish_early(now));
}

void LessonWatch::watch(std::size_t step, SimTime now) {
  const auto& journal = bench_.journal().entries();
  for (; told_ < journal.size(); ++told_) listener_.happened(step, journal[told_]);
  const auto& until = until_[step];
  const bool time_is_over = now >= *deadline_;
  const bool came = until ? moments_.at(*until).has_value() : time_is_over;
  if (!came && !time_is_over) return;
  step_.reset();
  deadline_.reset();
  if (came) {
    listener_.came(step);
  } else {
    listener_.ran_out(step, now);
  }
}

}  // namespace emberline::rehearsal
