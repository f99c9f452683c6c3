#pragma once

#include <chrono>
#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/result.hpp"
#include "sim/io/panel/allowance.hpp"
#include "sim/io/panel/panel_server.hpp"
#include "sim/io/panel/site.hpp"

namespace emberline::io {

/// What a request says of where it comes from and who asks. A field that is not there is empty.
struct Visit {
  std::string method;
  std::string path;
  bool live = false;                      ///< wants to become a WebSocket
  bool as_class = false;                  ///< "view=class": asks to be a watcher
  std::string arrived_at;                 ///< our own address that the connection reached: "192.0.2.7"
  std::string host;                       ///< "127.0.0.1:8710"
  std::optional<std::string> origin;      ///< "http://127.0.0.1:8710"
  std::optional<std::string> fetch_site;  ///< Sec-Fetch-Site
  std::string content_type;
  std::string cookie;
  std::string authorization;
};

/// Why a request is not answered: a status of HTTP and one line.
struct Refusal {
  int status = 0;
  std::string error;
};

/// True for "localhost", 127.0.0.0/8 and ::1 (with or without brackets): what only this machine reaches.
[[nodiscard]] bool is_loopback(std::string_view host);

/// True if both are the same; takes as long for a wrong token as for the right one.
[[nodiscard]] bool same_token(std::string_view given, std::string_view right);

/// Who may ask a panel for what.
class Access {
 public:
  using Instant = Allowance::Instant;
  Access(PanelAddress address, std::uint16_t port);

  /// Whether the request comes from a page of ours, or from no page at all: the Host header against DNS
  /// rebinding, Origin and Sec-Fetch-Site against other sites' pages, methods, the media type of a body.
  [[nodiscard]] std::optional<Refusal> refused(const Visit& visit) const;
  /// Who asks: by the session of a cookie (RFC 6265) or "Authorization: Bearer TOKEN" (RFC 6750); a trainer
  /// if no token is asked for. A watcher may only look. A right token does at any time; wrong ones are
  /// answered with 429 when there are too many.
  [[nodiscard]] Result<Role, Refusal> role_of(const Visit& visit, Instant now);
  /// Whether the visit shows a session or a token that would do, whatever it asks for; a wrong one is not
  /// counted here.
  [[nodiscard]] bool is_known(const Visit& visit) const;
  /// Begins the session that a body {"token":"..."} asks for; gives the text of its Set-Cookie header, empty
  /// if no token is asked for.
  [[nodiscard]] Result<std::string, Refusal> begin_session(const std::string& body, Instant now);
  [[nodiscard]] bool token_needed() const { return !address_.trainer_token.empty(); }

 private:
  /// What was given to those who have shown a token, the oldest first. Each role's are counted for
  /// themselves: the class cannot log the trainer out by logging in.
  class Sessions {
   public:
    const std::string& begin(Role role);
    [[nodiscard]] const std::deque<std::string>& operator[](Role role) const {
      return role == Role::trainer ? of_trainers_ : of_watchers_;
    }

   private:
    std::deque<std::string> of_trainers_, of_watchers_;
  };
  [[nodiscard]] bool known_host(std::string_view name, const std::string& arrived_at) const;
  [[nodiscard]] std::optional<Role> role_of_token(std::string_view token) const;
  [[nodiscard]] Result<Role, Refusal> role_by_token(std::string_view token, Instant now);
  [[nodiscard]] std::optional<Role> role_by_cookie(std::string_view cookies) const;

  PanelAddress address_;
  std::string cookie_name_;
  Sessions sessions_;
  Allowance wrong_tokens_;
};

}  // namespace emberline::io
