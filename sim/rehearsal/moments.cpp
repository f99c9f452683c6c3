#include "sim/rehearsal/moments.hpp"

#include <algorithm>
#include <utility>

namespace emberline::rehearsal {

bool all_hold(const std::vector<Condition>& conditions, const bench::Bench& bench, SimTime now) {
  return std::all_of(conditions.begin(), conditions.end(), [&](const Condition& condition) {
    return holds(condition, bench.value(condition.signal, now));
  });
}

Moments::Id Moments::add(const Anchor& anchor) { return add(anchor, true); }
Moments::Id Moments::add_unarmed(const Anchor& anchor) { return add(anchor, anchor.conditions.empty()); }

Moments::Id Moments::add(const Anchor& anchor, bool armed) {
  const Id id = watched_.size();
  watched_.push_back({&anchor, anchor.nth, armed});
  if (anchor.at) know(watched_.back(), *anchor.at);
  if (armed && !anchor.conditions.empty()) waiting_for_conditions_.push_back(id);
  return id;
}

void Moments::arm(Id id) {
  auto& watched = watched_[id];
  if (watched.armed) return;
  watched.armed = true;
  waiting_for_conditions_.push_back(id);
}

void Moments::arm_and_look(Id id, SimTime now) {
  auto& watched = watched_[id];
  if (watched.armed) return;
  watched.armed = true;
  look_at(watched, now);
  if (!watched.at) waiting_for_conditions_.push_back(id);
}

void Moments::know(Watched& watched, SimTime at) {
  watched.at = at + watched.anchor->plus;
  ++changes_;
}

void Moments::look(SimTime now) {
  if (waiting_for_conditions_.empty()) return;
  for (const Id id : waiting_for_conditions_) look_at(watched_[id], now);
  std::erase_if(waiting_for_conditions_, [&](Id id) { return watched_[id].at.has_value(); });
}

void Moments::look_at(Watched& watched, SimTime now) {
  const bool held = std::exchange(watched.held, all_hold(watched.anchor->conditions, bench_, now));
  if (watched.held && !held && --watched.left == 0) know(watched, now);
}

void Moments::happened(std::size_t entry, SimTime at) {
  const auto& action = scenario_.timeline[entry].action;
  tell({entry, {}, action ? at + action->kind->anchor_after : at});
}

void Moments::met(std::string_view expectation, SimTime at) { tell({std::nullopt, expectation, at}); }

void Moments::tell(const Event& event) {
  events_.push_back(event);
  for (auto& watched : watched_)
    if (!watched.at && speaks_of(*watched.anchor, event) && --watched.left == 0) know(watched, event.at);
}

bool Moments::speaks_of(const Anchor& anchor, const Event& event) const {
  if (!event.entry) return !anchor.expectation.empty() && anchor.expectation == event.expectation;
  if (anchor.entry) return anchor.entry == event.entry;
  const auto& action = scenario_.timeline[*event.entry].action;
  return action && !anchor.action_word.empty() && action->kind->word == anchor.action_word &&
         action->target == anchor.action_target;
}

std::optional<SimTime> Moments::first_since(const Anchor& anchor, SimTime since) const {
  std::optional<SimTime> first;
  for (const auto& event : events_)
    if (event.at >= since && speaks_of(anchor, event) && (!first || event.at < *first)) first = event.at;
  return first;
}

}  // namespace emberline::rehearsal
