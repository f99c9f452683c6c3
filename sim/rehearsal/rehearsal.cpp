#include "sim/rehearsal/rehearsal.hpp"

#include <string_view>
#include <utility>

#include "sim/base/duration_text.hpp"
#include "sim/polling/plan_review.hpp"

namespace emberline::rehearsal {
namespace {

bench::Bench::Options of_run(const ScenarioSpec& scenario, std::uint64_t seed,
                             bench::Bench::Options options) {
  options.seed = seed;
  options.starts_from = scenario.starts_from;
  return options;
}

/// What is to be known of a run that does not start cold, at its start.
void tell_of_state(const ScenarioSpec& scenario, bench::Journal& journal) {
  const auto& state = scenario.starts_from;
  if (!state) return;
  constexpr std::string_view kSubject = "bench";
  journal.note(SimTime{}, kSubject,
               "starts as hot as '" + state->bench + "' was after " +
                   format_duration(state->taken_at.time_since_epoch()));
  if (state->bench == scenario.bench.title) return;
  journal.note(SimTime{}, kSubject,
               "warning: this heat is of another bench, '" + state->bench + "'; this one is '" +
                   scenario.bench.title + "'");
}

}  // namespace

Rehearsal::Rehearsal(const ScenarioSpec& scenario, std::uint64_t seed, bench::Bench::Options options)
    : scenario_(scenario),
      seed_(seed),
      bench_(scenario.bench, of_run(scenario, seed, std::move(options))),
      moments_(scenario, bench_),
      timeline_(scenario.timeline, bench_, moments_),
      judge_(scenario, bench_, moments_, timeline_),
      watch_(bench_.spec()),
      trends_(scenario, bench_) {
  bench_.lines().add_observer(watch_);
  watch_.on_request(
      [this](const bench::RequestSeen& request, bool again) { judge_.request_seen(request, again); });
  bench_.on_write([this](const unit::WriteSeen& write) { judge_.write_seen(write); });
  loop_.add(bench::Rank::timers, bench_.timers());
  loop_.add(bench::Rank::timeline, timeline_);
  loop_.add(bench::Rank::grid, bench_.grid());
  loop_.add(bench::Rank::expectations, judge_);
  loop_.add(bench::Rank::expectations, trends_);
  tell_of_state(scenario_, bench_.journal());
}

void Rehearsal::leave_to_human(std::function<void(std::size_t)> ask) {
  timeline_.leave_to_human(std::move(ask));
}

void Rehearsal::done_by_human(std::size_t entry, SimTime at) {
  timeline_.done_by_human(entry, at);
  loop_.touched();
}

void Rehearsal::open_as_lesson(LessonListener& listener) {
  lesson_ = std::make_unique<LessonWatch>(scenario_, bench_, timeline_, moments_, judge_, listener);
  loop_.add(bench::Rank::expectations, *lesson_);
}

void Rehearsal::begin_step(std::size_t step, SimTime at) {
  lesson_->begin(step, at);
  loop_.touched();
}

void Rehearsal::judge_lesson() {
  lesson_->judge();
  loop_.touched();
}

Verdict Rehearsal::verdict(std::uint64_t transactions) {
  Verdict verdict;
  verdict.title = scenario_.title;
  verdict.file_stem = scenario_.file_stem;
  verdict.why = scenario_.why;
  verdict.seed = seed_;
  verdict.ended = loop_.now();
  verdict.outcomes = judge_.finish(loop_.now());
  timeline_.finish(loop_.now());
  verdict.marks = timeline_.marks();
  verdict.writes = watch_.writes();
  verdict.silences = watch_.silences(loop_.now());
  verdict.passed = all_passed(verdict.outcomes);
  verdict.journal = bench_.journal().entries();
  verdict.transactions = transactions;
  verdict.trends = trends_.finish(loop_.now());
  verdict.files = scenario_.files;
  verdict.traffic = bench_.traffic();
  for (const auto& plan : scenario_.poll_plans)
    verdict.plan_reviews.push_back({plan->wish.title, bench_.spec().lines[plan->wish.line].name,
                                    polling::review_against(*plan, verdict.traffic)});
  for (std::size_t u = 0; u < bench_.spec().units.size(); ++u) {
    const auto& unit = bench_.unit(u);
    verdict.closest_calls.push_back(
        {unit.spec().name, from_seconds(unit.value(registers::Point::comms_gap_longest, loop_.now())),
         from_seconds(unit.value(registers::Point::comms_timeout, loop_.now()))});
  }
  return verdict;
}

}  // namespace emberline::rehearsal
