#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "sim/base/result.hpp"
#include "sim/io/panel/panel_limits.hpp"
#include "sim/io/panel/site.hpp"

namespace emberline::io {

/// Where a panel is reached and who may see it.
struct PanelAddress {
  std::string host = "127.0.0.1";  ///< an address of this machine; any but a loopback address needs a token
  std::uint16_t port = 8710;       ///< 0: one is chosen
  bool any_port_if_taken = false;  ///< when the port is taken, one is chosen instead of failing
  /// Names by which pages may be asked for, besides localhost, loopback addresses and `host`: what a Host
  /// header may say.
  std::vector<std::string> names;
  std::string trainer_token;  ///< empty: none is asked for
  std::string watcher_token;  ///< empty: there is none
};

/// HTTP and WebSocket for the panel, on a thread of its own. Nothing that a visitor does ends it, reaches a
/// file, or is noticed on a line.
class PanelServer {
 public:
  /// `site` must outlive this.
  PanelServer(PanelSite& site, PanelAddress address, PanelPatience patience = {});
  ~PanelServer();
  /// Begins to listen and to serve; gives the page's address, "http://127.0.0.1:8710/". The error is one
  /// line: where, what the system said, what was expected. Called once.
  [[nodiscard]] Result<std::string, std::string> open();
  /// Closes all connections and joins the thread.
  void close();

  /// What has come in, for benchmarks and tests.
  struct Statistics {
    std::uint64_t requests = 0;
    std::uint64_t refused = 0;        ///< answered with 4xx by the server itself, or closed before an answer
    std::uint64_t connections = 0;    ///< there now, live pages included
    std::uint64_t live_pages = 0;     ///< connected now
    std::uint64_t messages = 0;       ///< sent to pages
    std::uint64_t held_back = 0;      ///< not sent because a page did not keep up
    std::uint64_t waiting_bytes = 0;  ///< of messages that pages have not fetched yet, now
  };
  [[nodiscard]] Statistics statistics() const;

 private:
  class Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace emberline::io
