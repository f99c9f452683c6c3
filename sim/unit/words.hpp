#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/unit/unit_spec.hpp"

namespace emberline::unit {

/// "enable-cycle", "reset-terminal", "reset-register".
[[nodiscard]] std::string_view to_word(ResetBy by);
/// "enable-cycle or reset-register".
[[nodiscard]] std::string any_of_words(const std::vector<ResetBy>& ways);
/// "50 %".
[[nodiscard]] std::string percent_text(double fraction);
/// "1 feeding request", "3 feeding requests".
[[nodiscard]] std::string counted(int count, std::string_view noun);

}  // namespace emberline::unit
