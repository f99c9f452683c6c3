#pragma once

#include <string>
#include <string_view>

#include "sim/unit/unit_spec.hpp"

namespace emberline::unit {

/// "enable-cycle", "reset-terminal", "reset-register".
[[nodiscard]] std::string_view to_word(ResetBy by);
/// "50 %".
[[nodiscard]] std::string percent_text(double fraction);
/// "1 feeding request", "3 feeding requests".
[[nodiscard]] std::string counted(int count, std::string_view noun);

}  // namespace emberline::unit
