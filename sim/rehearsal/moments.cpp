#include "sim/rehearsal/moments.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace emberline::rehearsal {

Held held(const std::vector<Condition>& conditions, const bench::Bench& bench, SimTime now) {
  Held result{true, nullptr};
  for (const auto& condition : conditions) {
    const double value = bench.value(condition.signal, now);
    const bool this_one = holds(condition, value);
    if (std::isnan(value)) {
      result.all = result.all && this_one;
      if (result.unseen == nullptr) result.unseen = &condition;
    } else if (!this_one) {
      return {};
    }
  }
  return result;
}

Moments::Id Moments::add(const Anchor& anchor) { return add(anchor, true); }
Moments::Id Moments::add_unarmed(const Anchor& anchor) { return add(anchor, anchor.conditions.empty()); }

Moments::Id Moments::add_end(const Anchor& anchor) {
  return add(anchor, anchor.conditions.empty() && anchor.action_word.empty());
}

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

void Moments::begin_end(Id id, SimTime from, SimTime now) {
  auto& watched = watched_[id];
  if (watched.armed) return;
  watched.armed = true;
  if (watched.anchor->conditions.empty()) {
    if (const auto first = first_since(*watched.anchor, from - watched.anchor->plus))
      know(watched, first->at);
    return;
  }
  look_at(watched, now);
  if (!watched.at) waiting_for_conditions_.push_back(id);
}

void Moments::know(Watched& watched, SimTime at) {
  watched.at = at + watched.anchor->plus;
  ++changes_;
}

void Moments::look(SimTime now) {
  look_at_edges(now);
  if (waiting_for_conditions_.empty()) return;
  for (const Id id : waiting_for_conditions_) look_at(watched_[id], now);
  std::erase_if(waiting_for_conditions_, [&](Id id) { return watched_[id].at.has_value(); });
}

void Moments::look_at(Watched& watched, SimTime now) {
  const auto [all, unseen] = rehearsal::held(watched.anchor->conditions, bench_, now);
  if (unseen != nullptr) return;  // nobody can tell: as before
  const bool held = std::exchange(watched.held, all);
  if (watched.held && !held && --watched.left == 0) know(watched, now);
}

/// A wire that nothing closes when its cycle is over has no closing edge, and its moment does not come.
void Moments::look_at_edges(SimTime now) {
  std::erase_if(edges_, [&](const Edge& edge) {
    const auto closed = bench_.wire_closed_at(scenario_.timeline[edge.entry].action->target.wire);
    const bool came = closed && *closed > edge.begun && *closed <= edge.latest;
    if (came) tell({edge.entry, {}, *closed});
    return came || edge.latest <= now;
  });
}

void Moments::happened(std::size_t entry, SimTime at, bool by_human) {
  const auto& action = scenario_.timeline[entry].action;
  const Duration later = action && !by_human ? action->kind->anchor_after : Duration{};
  if (later > Duration{}) {
    edges_.push_back({entry, at, at + later});
  } else {
    tell({entry, {}, at});
  }
}

void Moments::met(std::string_view expectation, SimTime at) { tell({std::nullopt, expectation, at}); }

void Moments::tell(const Event& event) {
  events_.push_back(event);
  for (auto& watched : watched_)
    if (!watched.at && watched.armed && speaks_of(*watched.anchor, event) && --watched.left == 0)
      know(watched, event.at);
}

bool Moments::speaks_of(const Anchor& anchor, const Event& event) const {
  if (!event.entry) return !anchor.expectation.empty() && anchor.expectation == event.expectation;
  if (anchor.entry) return anchor.entry == event.entry;
  const auto& action = scenario_.timeline[*event.entry].action;
  return action && !anchor.action_word.empty() && action->kind->word == anchor.action_word &&
         action->target == anchor.action_target;
}

std::optional<Moments::Happening> Moments::first_since(const Anchor& anchor, SimTime since,
                                                       const std::vector<std::size_t>& but) const {
  std::optional<Happening> first;
  for (std::size_t i = 0; i < events_.size(); ++i) {
    const auto& event = events_[i];
    if (event.at < since || !speaks_of(anchor, event) || (first && event.at >= first->at)) continue;
    if (std::find(but.begin(), but.end(), i) == but.end()) first = Happening{i, event.at};
  }
  return first;
}

}  // namespace emberline::rehearsal
