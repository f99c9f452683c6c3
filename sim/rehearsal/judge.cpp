#include "sim/rehearsal/judge.hpp"

#include <algorithm>
#include <utility>

#include "sim/rehearsal/judge_words.hpp"
#include "sim/rehearsal/waiting.hpp"

namespace emberline::rehearsal {

using Kind = Expectation::Kind;
using Result = Outcome::Result;

Judge::Judge(const ScenarioSpec& scenario, const bench::Bench& bench, Moments& moments,
             const Timeline& timeline)
    : scene_{bench, moments}, moments_(moments), timeline_(timeline), ends_(scenario.ends), samples_(bench) {
  cases_.reserve(scenario.expectations.size());
  for (const auto& expectation : scenario.expectations) {
    auto& item = cases_.emplace_back();
    item.expectation = &expectation;
    item.question = ask(expectation, scene_);
    item.columns = samples_.add(expectation);
    item.outcome.name = expectation.name;
    if (expectation.from) item.from_id = moments_.add(*expectation.from);
    if (expectation.until) item.until_id = moments_.add_end(*expectation.until);
  }
  for (const auto index : met_order(scenario)) open_.push_back(&cases_[index]);
  drop_decided();
}

std::optional<SimTime> Judge::next() const { return next_; }

void Judge::run(SimTime now) {
  if (now > ends_) {  // the clock of the machine may overshoot
    forget_heard();
    next_.reset();
    return;
  }
  moments_.look(now);
  // What waits for this very sight is done first; the instant is judged when it is over.
  const auto goes_on = [&] {
    const auto due = timeline_.next();
    return due && *due <= now;
  };
  if (goes_on()) return;
  bool decided = false;
  for (auto* item : open_) {
    look(*item, now);
    if (!item->decided) continue;
    decided = true;
    if (goes_on()) return drop_decided();  // and so is what waits for this; the others see what it makes
  }
  forget_heard();
  samples_.look(now, !open_.empty());
  if (decided) drop_decided();
  find_next(now);
}

void Judge::forget_heard() {
  if (heard_.size() == 0) return;
  heard_.clear();
  for (auto* item : open_) item->told = 0;
}

void Judge::drop_decided() {
  std::erase_if(open_, [](const Case* item) { return item->decided; });
  hears_ = std::any_of(open_.begin(), open_.end(), [](const Case* item) { return item->question->hears(); });
}

void Judge::find_next(SimTime now) {
  std::optional<SimTime> first;
  const auto consider = [&](std::optional<SimTime> at) {
    if (at && *at > now && (!first || *at < *first)) first = at;
  };
  if (!open_.empty()) consider(ends_);  // the last instant is one of every interval that reaches it
  for (const auto* item : open_) {
    if (!item->begun) {
      consider(item->from_id ? moments_.at(*item->from_id) : SimTime{});
      continue;
    }
    if (item->until_id) consider(moments_.at(*item->until_id));
    consider(item->last);
    consider(item->question->next());
  }
  next_ = first;
}

void Judge::write_seen(const unit::WriteSeen& write) {
  if (hears_) heard_.add(write);
}

void Judge::request_seen(const bench::RequestSeen& request, bool again) {
  if (hears_) heard_.add(request, again);
}

void Judge::look(Case& item, SimTime now) {
  if (!item.begun) {
    const auto from = item.from_id ? moments_.at(*item.from_id) : SimTime{};
    if (!from || *from > now) {
      if (item.question->looks_before()) item.question->before(now);
      return;
    }
    begin(item, *from, now);
  }
  if (item.from >= ends_ && needs_time(*item.expectation))
    return decide_unjudged(item, now, "it begins with the end of the run, at " + words_of(ends_));
  const auto until = item.until_id ? moments_.at(*item.until_id) : std::nullopt;
  if (until && *until <= item.from)
    return decide_unjudged(item, now,
                           "its end '" + item.expectation->until->text + "' " + came_early(item, *until));
  if (item.question->hears()) tell(item, until);
  if (until && now >= *until && (!item.last || *item.last >= *until)) return close(item, now, End::until);
  if (const auto finding = item.question->look(now)) return decide(item, *finding, now, End::none);
  if (item.last && now >= *item.last) close(item, now, End::length);
}

void Judge::begin(Case& item, SimTime from, SimTime now) {
  item.begun = true;
  item.from = from;
  if (const auto length = length_of(*item.expectation)) item.last = from + *length;
  item.question->begin(from);
  if (item.until_id) moments_.begin_end(*item.until_id, from, now);
}

std::string Judge::came_early(const Case& item, SimTime at) const {
  const bool with_it = at == item.from;
  return "came at " + words_of(at) + ", " +
         (with_it ? "with its beginning" : "before its beginning at " + words_of(item.from));
}

void Judge::tell(Case& item, std::optional<SimTime> until) {
  // Once each, though the instant may go round again.
  while (item.told < heard_.size()) {
    const auto& heard = heard_[item.told++];
    const auto at = heard.at();
    if (at < item.from || (until && at >= *until) || (item.last && at > *item.last)) continue;
    if (heard.is_write) {
      item.question->write(heard.write);
    } else {
      item.question->request(heard.request, heard.again);
    }
  }
}

void Judge::close(Case& item, SimTime now, End end) {
  const auto& expectation = *item.expectation;
  const bool lasts = expectation.kind == Kind::always || expectation.kind == Kind::never;
  if (lasts && expectation.holds_for && end == End::until)
    return decide_unjudged(item, now,
                           "its end '" + expectation.until->text + "' came at " + words_of(now) +
                               ", before it had lasted for " + words_of(*expectation.holds_for) + " " +
                               since(expectation, item.from));
  decide(item, item.question->over(now, end == End::run), now, end);
}

void Judge::decide(Case& item, const Finding& finding, SimTime now, End end) {
  const auto& expectation = *item.expectation;
  const std::string begins = since(expectation, item.from);
  const std::string ends = end == End::until ? " until " + expectation.until->text : "";
  // `that` has its `within` among what is expected.
  const std::string within = expectation.within && expectation.kind != Kind::within
                                 ? "within " + words_of(*expectation.within) + " "
                                 : "";
  item.decided = true;
  item.outcome.result = finding.result;
  item.outcome.at = finding.at;
  if (finding.result == Result::not_judged) {
    item.outcome.sentence = "could not be judged: " + finding.happened + " " + within + begins + ends;
  } else if (finding.expected.empty()) {
    item.outcome.sentence =
        finding.happened + " " + within + begins + (end == End::run ? " to the end" : ends);
  } else {
    item.outcome.sentence =
        "expected " + finding.expected + " " + within + begins + ends + "; " + finding.happened;
  }
  if (finding.result == Result::failed) samples_.begin(item.outcome.around, item.columns, now);
  if (finding.result == Result::passed) moments_.met(expectation.name, now);
}

void Judge::decide_unjudged(Case& item, SimTime now, const std::string& why) {
  item.decided = true;
  item.outcome.result = Result::not_judged;
  item.outcome.at = now;
  item.outcome.sentence = "could not be judged: " + why;
}

void Judge::close_at_run_end(Case& item, SimTime now) {
  if (!item.begun) {
    // It may begin with the last instant, when another was met by the end of the run.
    const auto from = item.from_id ? moments_.at(*item.from_id) : SimTime{};
    if (!from)
      return decide_unjudged(
          item, now, "its anchor '" + item.expectation->from->text + "' did not come before the run ended");
    if (*from <= now) look(item, now);
    if (item.decided) return;
  }
  // Stopped by hand half way: what is still open may yet have gone either way.
  const bool stopped_early = now < ends_;
  const auto until = item.until_id ? moments_.at(*item.until_id) : std::nullopt;
  if (item.begun && item.until_id && !until && !stopped_early) {
    const auto& end = *item.expectation->until;
    const auto early = moments_.first_since(end, SimTime{});
    return decide_unjudged(item, now,
                           "its end '" + end.text + "' did not come before the run ended" +
                               (early ? ", it " + came_early(item, early->at + end.plus) : ""));
  }
  const auto& within = item.expectation->within;
  const bool later = within && item.from + *within > now;
  if (!item.begun || until || item.last || stopped_early || later)
    return decide_unjudged(item, now, "the run ended first, at " + words_of(now));
  close(item, now, End::run);
}

std::vector<Outcome> Judge::finish(SimTime now) {
  now = std::min(now, ends_);
  samples_.finish(now);
  for (auto* item : open_) close_at_run_end(*item, now);
  open_.clear();
  std::vector<Outcome> outcomes;
  for (auto& item : cases_) outcomes.push_back(std::move(item.outcome));
  return outcomes;
}

std::vector<Outcome> Judge::finish_early(SimTime now) {
  ends_ = now;
  next_.reset();
  return finish(now);
}

}  // namespace emberline::rehearsal
