#pragma once

#include <string>
#include <vector>

namespace emberline {

/// "a, b, c"; "none" for an empty list.
[[nodiscard]] std::string listed(const std::vector<std::string>& words);

}  // namespace emberline
