#pragma once

#include <string>
#include <vector>

#include "sim/bench/traffic.hpp"

namespace emberline::bench {

/// A traffic review for people, one entry a line; what belongs to the line above begins with spaces.
[[nodiscard]] std::vector<std::string> traffic_lines(const TrafficReview& review);

}  // namespace emberline::bench
