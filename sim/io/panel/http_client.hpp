#pragma once

#include <chrono>
#include <optional>
#include <string>

#include "sim/base/result.hpp"

namespace emberline::io {

/// One request to a running panel, for `tell` and `watch`.
struct PanelCall {
  std::string url;                   ///< of the panel: "http://127.0.0.1:8710/" or "http://127.0.0.1:8710"
  std::string path;                  ///< "/api/state"
  std::optional<std::string> body;   ///< a POST with this JSON; else a GET
  std::string token;                 ///< empty: none
  std::chrono::seconds patience{5};  ///< how long an answer may take
};
/// What came back, whatever its status.
struct PanelResponse {
  int status = 0;
  std::string body;
};
/// Asks and waits, no longer than patience lasts. The error is one line that begins with the url: nobody
/// there, no panel, no answer in time.
[[nodiscard]] Result<PanelResponse, std::string> call_panel(const PanelCall& call);

/// True if the text looks like the address of a panel: it begins with "http://".
[[nodiscard]] bool is_panel_url(const std::string& text);

}  // namespace emberline::io
