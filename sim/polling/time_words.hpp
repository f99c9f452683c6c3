#pragma once

#include <string>

#include "sim/base/sim_time.hpp"

namespace emberline::polling {

/// "23.94 ms", "1.5 s": a time that is known, in milliseconds below a second.
[[nodiscard]] std::string time_words(Duration duration);
/// "23.94 ms": an upper bound of a time: rounded up where digits are left out.
[[nodiscard]] std::string bound_words(Duration duration);

}  // namespace emberline::polling
