#include "sim/bench/event_loop.hpp"

#include <algorithm>
#include <cassert>

namespace emberline::bench {
namespace {

constexpr std::size_t index_of(Rank rank) { return static_cast<std::size_t>(rank); }
constexpr std::array kCausing{Rank::frames, Rank::timers, Rank::timeline, Rank::stand_ins};

}  // namespace

void EventLoop::add(Rank rank, EventSource& source) { sources_[index_of(rank)].push_back(&source); }

std::optional<SimTime> EventLoop::next() const {
  std::optional<SimTime> first;
  for (const auto& rank : sources_) {
    for (const auto* source : rank) {
      const auto due = source->next();
      if (due && (!first || *due < *first)) first = due;
    }
  }
  return first;
}

bool EventLoop::run_rank(Rank rank, SimTime at) {
  bool ran = false;
  for (auto* source : sources_[index_of(rank)]) {
    const auto due = source->next();
    if (due && *due <= at) {
      source->run(at);
      ran = true;
    }
  }
  return ran;
}

bool EventLoop::due(Rank rank, SimTime at) const {
  const auto& sources = sources_[index_of(rank)];
  return std::any_of(sources.begin(), sources.end(), [&](const EventSource* source) {
    const auto next = source->next();
    return next && *next <= at;
  });
}

void EventLoop::settle(SimTime at) {
  for (;;) {
    bool ran = false;
    for (const Rank rank : kCausing) ran = run_rank(rank, at) || ran;
    // The grid moves on only when nothing else is left to do at this instant; what it causes goes round
    // again.
    if (!ran && !run_rank(Rank::grid, at)) break;
    touched_ = true;
  }
}

void EventLoop::run_instant(SimTime at) {
  now_ = at;
  do {
    settle(at);
    if (sources_[index_of(Rank::expectations)].empty()) {
      touched_ = false;
      return;
    }
    if (!touched_ && !due(Rank::expectations, at)) return;
    touched_ = false;
    for (auto* source : sources_[index_of(Rank::expectations)]) source->run(at);
    // An entry of a timeline that waits for what has just been seen acts at this very instant.
  } while (std::any_of(kCausing.begin(), kCausing.end(), [&](Rank rank) { return due(rank, at); }));
}

void EventLoop::run_before(SimTime end) {
  while (const auto due = next()) {
    if (*due >= end) break;
    run_instant(std::max(*due, now_));
  }
  if (end > now_) {
    if (touched_) run_instant(now_);
    now_ = end;
  }
}

void EventLoop::run_through(SimTime end) {
  assert(end >= now_);
  if (end > now_) run_before(end);
  run_instant(end);
}

void EventLoop::touched() { touched_ = true; }

}  // namespace emberline::bench
