#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "sim/bench/traffic.hpp"
#include "sim/polling/poll_plan.hpp"

namespace emberline::polling {

/// Plans of one bench, whose traffic is held against each.
using PollPlans = std::vector<std::shared_ptr<const PollPlan>>;

/// What stands above the sentences of a review: "Beside the poll plan 'My polling' of field:"
[[nodiscard]] std::string review_head(std::string_view plan_title, std::string_view line);

/// The traffic for people, one entry a line, and what it is beside each plan; what belongs to the line above
/// begins with spaces.
[[nodiscard]] std::vector<std::string> traffic_lines(const bench::TrafficReview& traffic,
                                                     const PollPlans& plans);

}  // namespace emberline::polling
