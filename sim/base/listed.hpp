#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace emberline {

/// "a, b, c"; "none" for an empty list.
[[nodiscard]] std::string listed(const std::vector<std::string>& words);

/// A name in a message: 'south'.
[[nodiscard]] inline std::string in_quotes(std::string_view name) { return "'" + std::string(name) + "'"; }

}  // namespace emberline
