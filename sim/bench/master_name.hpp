#pragma once

#include <algorithm>
#include <string_view>

namespace emberline::bench {

/// A master without the port it happened to come from, "192.0.2.7" of "192.0.2.7:49160": whoever connects
/// anew is still the same. Names of stand-ins stay as they are.
[[nodiscard]] constexpr std::string_view without_port(std::string_view master) {
  const auto colon = master.rfind(':');
  if (colon == std::string_view::npos || colon + 1 == master.size()) return master;
  const auto port = master.substr(colon + 1);
  const bool digits = std::all_of(port.begin(), port.end(), [](char c) { return c >= '0' && c <= '9'; });
  return digits ? master.substr(0, colon) : master;
}

}  // namespace emberline::bench
