#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace emberline::io {

/// Who asks. A watcher (the class) sees, and does nothing; in blind mode it does not see the faults.
enum class Role : std::uint8_t { watcher, trainer };

/// One request to the panel, after the server has checked where it comes from and who asks.
struct PanelRequest {
  std::string method;                        ///< "GET" (HEAD comes as GET) or "POST"
  std::string path;                          ///< decoded, without the query: "/api/state"
  std::map<std::string, std::string> query;  ///< decoded
  std::string body;                          ///< of a POST: JSON
  Role role = Role::trainer;
};

/// The answer to it. The server adds what every answer carries: length, caching, security headers.
struct PanelAnswer {
  int status = 200;
  std::string type = "application/json";  ///< media type
  std::string body;
  std::string file_name{};  ///< not empty: the browser is told to save it under this name
};

/// Gives the answer to one request, from any thread, once. Dropped without an answer it says 503: whoever was
/// to answer has gone.
class PanelReply {
 public:
  explicit PanelReply(std::function<void(PanelAnswer)> give) : give_(std::move(give)) {}
  PanelReply(PanelReply&& other) noexcept : give_(std::exchange(other.give_, nullptr)) {}
  PanelReply& operator=(PanelReply&&) = delete;
  ~PanelReply();
  void operator()(PanelAnswer answer) {
    if (auto give = std::exchange(give_, nullptr)) give(std::move(answer));
  }

 private:
  std::function<void(PanelAnswer)> give_;
};

/// A text on its way to any number of pages; written once.
using SharedText = std::shared_ptr<const std::string>;

/// The server's end of a live connection (WebSocket), for whoever has something to tell. Callable from the
/// panel's thread only.
class LiveSink {
 public:
  virtual ~LiveSink() = default;
  /// Sends a text. False: the page does not keep up and still has too much to fetch; nothing was queued.
  virtual bool send(SharedText text) = 0;
};

/// One page that is connected, on the panel's thread.
class LivePage {
 public:
  virtual ~LivePage() = default;
  /// The page says something: JSON. An unusable text is answered by a message of type "error".
  virtual void told(const std::string& text) = 0;
};

/// What a panel server serves. All calls come on the panel's thread.
class PanelSite {
 public:
  virtual ~PanelSite() = default;
  /// Answers a request to a path under /api/ or to /metrics. The page's own files are the server's business.
  virtual void handle(PanelRequest request, PanelReply reply) = 0;
  /// A page has connected. `sink` outlives what is returned, which the server destroys when the page has
  /// gone.
  [[nodiscard]] virtual std::unique_ptr<LivePage> connected(Role role, LiveSink& sink) = 0;
  /// Called on the panel's thread 20 times a second, for what goes out by itself.
  virtual void tick() = 0;
};

}  // namespace emberline::io
