#pragma once

#include <string>
#include <string_view>

#include "sim/base/result.hpp"
#include "sim/faults/action.hpp"

namespace emberline::faults {

/// Reads the value of a further key, "200 ms" for `by`; the error begins with the key and says what was
/// expected.
[[nodiscard]] Result<double, std::string> parse_action_value(const ActionKey& key, std::string_view text);

/// The key `for`, which every action that can be taken back has.
extern const ActionKey kFor;

}  // namespace emberline::faults
