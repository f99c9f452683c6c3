#pragma once

#include <string>
#include <vector>

#include "sim/bench/traffic.hpp"
#include "sim/polling/poll_plan.hpp"

namespace emberline::polling {

/// What a master did on the plan's line beside what the plan says: a sentence an entry. First how much of the
/// line each takes; then block reads that the plan has and nobody made, or made at another rate (a tenth or
/// more off), writes in the same way, reads that the plan does not have, blocks that were cut otherwise. One
/// sentence that all is as planned if it is.
[[nodiscard]] std::vector<std::string> review_against(const PollPlan& plan,
                                                      const bench::TrafficReview& traffic);

}  // namespace emberline::polling
