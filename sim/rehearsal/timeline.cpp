#include "sim/rehearsal/timeline.hpp"

#include <string_view>
#include <utility>

namespace emberline::rehearsal {
namespace {

/// The journal's subject for what is asked of people, and for what never came.
constexpr std::string_view kHuman = "by hand";
constexpr std::string_view kTimeline = "timeline";

}  // namespace

Timeline::Timeline(const std::vector<TimelineEntry>& entries, bench::Bench& bench, Moments& moments)
    : entries_(entries), bench_(bench), moments_(moments) {
  bool first = true;
  for (const auto& entry : entries_) {
    const auto id = entry.from_start ? moments_.add(entry.when) : moments_.add_unarmed(entry.when);
    items_.push_back({id});
    if (!entry.takes_back && std::exchange(first, false)) moments_.arm(id);
  }
}

std::optional<SimTime> Timeline::next() const {
  if (!stale_ && known_as_of_ == moments_.changes()) return next_;
  known_as_of_ = moments_.changes();
  stale_ = false;
  next_.reset();
  for (const auto& item : items_) {
    if (item.state != State::waits) continue;
    const auto at = moments_.at(item.moment);
    if (at && (!next_ || *at < *next_)) next_ = at;
  }
  return next_;
}

void Timeline::run(SimTime now) {
  // What one entry brings about may make another due, before it in the file or behind.
  while (const auto entry = first_due(now)) fall_due(*entry, now);
}

std::optional<std::size_t> Timeline::first_due(SimTime now) const {
  for (std::size_t i = 0; i < items_.size(); ++i) {
    if (items_[i].state != State::waits) continue;
    const auto at = moments_.at(items_[i].moment);
    if (at && *at <= now) return i;
  }
  return std::nullopt;
}

void Timeline::fall_due(std::size_t entry, SimTime now) {
  const auto& what = entries_[entry];
  stale_ = true;
  if (ask_ && !what.ask.empty()) {
    items_[entry].state = State::asked;
    bench_.journal().note(now, kHuman, "asked for: " + what.ask);
    ask_(entry);
    return;
  }
  if (what.action) {
    faults::carry_out(bench_, *what.action, now);
  } else {
    bench_.journal().note(now, kHuman, "nobody is there to be asked for: " + what.ask);
  }
  happen(entry, now, false);
}

void Timeline::done_by_human(std::size_t entry, SimTime at) {
  if (entry >= items_.size() || items_[entry].state != State::asked) return;
  bench_.journal().note(at, kHuman, "done: " + entries_[entry].ask);
  happen(entry, at, true);
}

void Timeline::hold_back(std::size_t entry) {
  items_[entry].state = State::held_back;
  stale_ = true;
}

void Timeline::let_happen(std::size_t entry, SimTime now) {
  if (items_[entry].state == State::held_back) fall_due(entry, now);
}

void Timeline::happen(std::size_t entry, SimTime at, bool by_human) {
  items_[entry].state = State::happened;
  stale_ = true;
  marks_.push_back({at, words_of(entry), by_human});
  moments_.happened(entry, at, by_human);
  // The next of the file has been waiting for this.
  for (std::size_t next = entry + 1; next < items_.size(); ++next) {
    if (entries_[next].takes_back) continue;
    moments_.arm(items_[next].moment);
    return;
  }
}

void Timeline::finish(SimTime now) {
  for (std::size_t i = 0; i < items_.size(); ++i) {
    const auto& entry = entries_[i];
    if (items_[i].state == State::asked)
      bench_.journal().note(now, kHuman, "asked for, and never confirmed: " + entry.ask);
    if (items_[i].state != State::waits || entry.when.at || entry.takes_back) continue;
    const bool conditions_in_turn = !entry.when.conditions.empty() && !entry.from_start;
    bench_.journal().note(now, kTimeline,
                          "never happened: " + words_of(i) + " (" +
                              (conditions_in_turn ? "when " : "after ") + entry.when.text + ")");
  }
}

std::string Timeline::words_of(std::size_t entry) const {
  return entries_[entry].action ? entries_[entry].action->text() : entries_[entry].ask;
}

}  // namespace emberline::rehearsal
