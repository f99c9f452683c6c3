#pragma once

#include <algorithm>
#include <deque>
#include <iterator>
#include <utility>

#include "sim/bench/line_session.hpp"

namespace emberline::io {

/// Answers that wait for their time, the next one first.
using Waiting = std::deque<bench::LineSession::Outgoing>;

/// A line with so many requests and answers waiting takes in no more.
inline constexpr std::size_t kMostAnswersWaiting = 64;

/// What the journal says, once, of bytes that a serial line could not take in.
inline constexpr auto kOverrun =
    "the master asks faster than it can be answered: what came while 64 requests waited was lost (said once)";

/// Adds an answer. It may be due before those that came earlier: after an impairment was lifted that had put
/// them off.
inline void wait_for_its_time(Waiting& waiting, bench::LineSession::Outgoing answer) {
  if (waiting.empty() || waiting.back().due <= answer.due) {  // nearly always, and without a search
    waiting.push_back(std::move(answer));
    return;
  }
  const auto place = std::upper_bound(waiting.begin(), waiting.end(), answer.due,
                                      [](SimTime due, const auto& other) { return due < other.due; });
  waiting.insert(place, std::move(answer));
}

}  // namespace emberline::io
