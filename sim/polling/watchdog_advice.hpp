#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "sim/polling/plan_requests.hpp"
#include "sim/polling/poll_plan.hpp"
#include "sim/polling/schedule.hpp"

namespace emberline::polling {

/// The most requests one walk goes through.
inline constexpr std::size_t kMostRequests = 200'000;

/// The requests of a plan as a schedule; slaves numbered in the order of `slaves`, units whose watchdog they
/// feed by the same numbers.
[[nodiscard]] std::vector<Turn> turns_of(const PollWish& wish, const std::vector<PlannedRequest>& requests,
                                         const std::vector<SlaveKey>& slaves);

/// Advice for each unit of `slaves`. `healthy` is the course of `turns` with everybody answering. A neighbour
/// is tried dead from the beginning and from each of its requests on that come before the schedule comes
/// round (evenly chosen ones where all would be more than kMostRequests to walk through).
[[nodiscard]] std::vector<WatchdogAdvice> advise(const PollWish& wish, const std::vector<SlaveKey>& slaves,
                                                 const std::vector<Turn>& turns, const Course& healthy);

}  // namespace emberline::polling
