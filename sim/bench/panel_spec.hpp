#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "sim/base/result.hpp"

namespace emberline::bench {

/// Where a bench's panel is to be found, as its file or the command line says.
struct PanelSpec {
  bool off = false;
  std::string host = "127.0.0.1";
  std::uint16_t port = 8710;  ///< 0: one is chosen
};

/// Reads "off", "8710", "127.0.0.1:8710" or "[::1]:8710". The error is what was expected, on one line.
[[nodiscard]] Result<PanelSpec, std::string> parse_panel(std::string_view text);

}  // namespace emberline::bench
