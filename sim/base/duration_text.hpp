#pragma once

#include <string>

#include "sim/base/sim_time.hpp"

namespace emberline {

/// A length of time for people, to the millisecond: "8.019 s" up to two minutes, "5 h 02 min 01 s" beyond.
[[nodiscard]] std::string format_duration(Duration duration);

}  // namespace emberline
