#include "sim/io/files/scenario_known_times.hpp"

#include <algorithm>

#include "sim/rehearsal/question.hpp"

namespace emberline::io {

using rehearsal::Anchor;

KnownTimes::KnownTimes(const rehearsal::ScenarioSpec& spec) : spec_(spec), entries_(spec.timeline.size()) {
  // Each round finds what hangs on the entries found so far; what is left in the end never happens. As more
  // entries are found, an anchor on the n-th of them may come earlier.
  bool changed = true;
  for (std::size_t round = 0; changed && round <= 2 * entries_.size(); ++round) {
    changed = false;
    for (std::size_t i = 0; i < entries_.size(); ++i) {
      const auto found = falls_due(i);
      changed = changed || found.has_value() != entries_[i].has_value() ||
                (found && (found->earliest != entries_[i]->earliest || found->exact != entries_[i]->exact));
      entries_[i] = found;
    }
  }
}

std::optional<KnownTimes::When> KnownTimes::falls_due(std::size_t entry) const {
  const auto& what = spec_.timeline[entry];
  auto when = of(what.when);
  if (!when) return std::nullopt;
  if (!what.when.conditions.empty() && !what.from_start) {
    // They count from the entry before it in the file.
    for (std::size_t before = entry; before-- > 0;) {
      if (spec_.timeline[before].takes_back) continue;
      if (!entries_[before]) return std::nullopt;
      when->earliest = std::max(when->earliest, entries_[before]->earliest + what.when.plus);
      break;
    }
  }
  if (!what.ask.empty()) when->exact = false;
  return when;
}

std::vector<std::size_t> KnownTimes::entries_of(const Anchor& anchor) const {
  if (anchor.entry) return {*anchor.entry};
  std::vector<std::size_t> found;
  for (std::size_t i = 0; i < spec_.timeline.size(); ++i) {
    const auto& action = spec_.timeline[i].action;
    if (action && !anchor.action_word.empty() && action->kind->word == anchor.action_word &&
        action->target == anchor.action_target)
      found.push_back(i);
  }
  return found;
}

std::vector<KnownTimes::When> KnownTimes::times_of_action(const Anchor& anchor) const {
  std::vector<When> times;
  for (const auto entry : entries_of(anchor)) {
    if (!entries_[entry]) continue;
    const auto& action = spec_.timeline[entry].action;
    times.push_back({entries_[entry]->earliest + (action ? action->kind->anchor_after : Duration{}),
                     entries_[entry]->exact});
  }
  std::sort(times.begin(), times.end(),
            [](const When& one, const When& other) { return one.earliest < other.earliest; });
  return times;
}

std::optional<KnownTimes::When> KnownTimes::of_action(const Anchor& anchor) const {
  const auto times = times_of_action(anchor);
  const auto nth = anchor.entry ? 1 : static_cast<std::size_t>(anchor.nth);
  if (times.size() < nth) return std::nullopt;
  return When{times[nth - 1].earliest,
              std::all_of(times.begin(), times.end(), [](const When& when) { return when.exact; })};
}

std::vector<KnownTimes::When> KnownTimes::all_of(const Anchor& anchor) const {
  std::vector<When> times;
  if (!anchor.action_word.empty() || anchor.entry) {
    times = times_of_action(anchor);
    for (auto& when : times) when.earliest += anchor.plus;
  } else if (const auto when = of(anchor)) {
    times.push_back(*when);
  }
  return times;
}

std::optional<KnownTimes::When> KnownTimes::of_expectation(const std::string& name) const {
  const auto found =
      std::find_if(spec_.expectations.begin(), spec_.expectations.end(),
                   [&](const rehearsal::Expectation& expectation) { return expectation.name == name; });
  const bool asked = std::find(asked_.begin(), asked_.end(), name) != asked_.end();
  if (found == spec_.expectations.end() || asked) return When{};
  // It is met at its beginning at the earliest, or, if it is about all of its interval, at the end of that.
  asked_.push_back(name);
  const auto when = found->from ? of(*found->from) : When{SimTime{}, true};
  const auto until = when && found->until ? end_of(*found, *when) : std::nullopt;
  asked_.pop_back();
  if (!when) return std::nullopt;
  if (!rehearsal::met_at_end_only(*found)) return When{when->earliest + found->not_before, false};
  if (const auto length = rehearsal::length_of(*found)) return When{when->earliest + *length, false};
  if (found->until) return until;
  return When{std::max(when->earliest, spec_.ends), false};
}

std::optional<KnownTimes::When> KnownTimes::end_of(const rehearsal::Expectation& expectation,
                                                   const When& from) const {
  const auto& until = *expectation.until;
  if (until.action_word.empty()) return of(until);
  std::optional<When> first;
  for (auto when : all_of(until)) {
    if (when.exact && when.earliest < from.earliest) continue;
    when.earliest = std::max(when.earliest, from.earliest);
    when.exact = when.exact && from.exact;
    // Of several any may come first if it may come late.
    if (!first) {
      first = when;
    } else {
      first->earliest = std::min(first->earliest, when.earliest);
      first->exact = first->exact && when.exact;
    }
  }
  return first;
}

std::optional<KnownTimes::When> KnownTimes::of(const Anchor& anchor) const {
  std::optional<When> when = When{};
  if (anchor.at) {
    when = When{*anchor.at, true};
  } else if (!anchor.action_word.empty() || anchor.entry) {
    when = of_action(anchor);
  } else if (!anchor.expectation.empty()) {
    when = of_expectation(anchor.expectation);
  }
  if (when) when->earliest += anchor.plus;
  return when;
}

}  // namespace emberline::io
