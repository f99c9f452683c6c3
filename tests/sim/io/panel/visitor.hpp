#pragma once

#include <array>
#include <cerrno>
#include <cstdint>
#include <cstdlib>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

#include <arpa/inet.h>
#include <doctest/doctest.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <unistd.h>

namespace emberline::test {

/// What a visitor of a panel got. Status 0: the connection ended without an answer.
struct Got {
  int status = 0;
  std::string head;
  std::string body;
  /// The value of a header field; empty if there is none.
  [[nodiscard]] std::string field(const std::string& name) const {
    const auto at = head.find("\r\n" + name + ": ");
    if (at == std::string::npos) return {};
    const auto begin = at + name.size() + 4;
    return head.substr(begin, head.find("\r\n", begin) - begin);
  }
};

/// A connection to a panel, byte by byte, as well or badly behaved as a test wants.
class Visitor {
 public:
  explicit Visitor(std::uint16_t port) : socket_(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
    REQUIRE(socket_ >= 0);
    const timeval patience{60, 0};  // so that a broken server fails a test instead of stopping it
    ::setsockopt(socket_, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
    ::setsockopt(socket_, SOL_SOCKET, SO_SNDTIMEO, &patience, sizeof patience);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_port = htons(port);
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    REQUIRE(::connect(socket_, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0);
  }
  ~Visitor() {
    if (socket_ >= 0) ::close(socket_);
  }
  Visitor(Visitor&& other) noexcept
      : socket_(std::exchange(other.socket_, -1)), inbox_(std::move(other.inbox_)) {}
  Visitor& operator=(Visitor&&) = delete;

  /// False if the other side has gone.
  bool send(std::string_view text) {
    while (!text.empty()) {
      const auto count = ::send(socket_, text.data(), text.size(), MSG_NOSIGNAL);
      if (count <= 0) return false;
      text.remove_prefix(static_cast<std::size_t>(count));
    }
    return true;
  }
  /// One answer, with the body that its Content-Length announces.
  Got answer(bool with_body = true) {
    Got got;
    const auto end = find_in_inbox("\r\n\r\n");
    if (!end) return got;
    got.head = inbox_.substr(0, *end + 2);
    inbox_.erase(0, *end + 4);
    REQUIRE(got.head.starts_with("HTTP/1.1 "));
    got.status = std::atoi(got.head.c_str() + 9);
    const auto length = static_cast<std::size_t>(std::atoll(("0" + got.field("Content-Length")).c_str()));
    if (with_body && length > 0 && fill(length)) {
      got.body = inbox_.substr(0, length);
      inbox_.erase(0, length);
    }
    return got;
  }
  Got ask(std::string_view text) {
    send(text);
    return answer();
  }
  /// True if nothing comes any more: the other side has closed.
  bool ended() { return inbox_.empty() && !fill(1); }

  /// A frame of a WebSocket from a client (RFC 6455, 5.2), masked with zeros.
  bool say(std::string_view payload, unsigned opcode = 1, bool final = true) {
    std::string frame;
    frame += static_cast<char>((final ? 0x80U : 0U) | opcode);
    if (payload.size() < 126) {
      frame += static_cast<char>(0x80U | payload.size());
    } else {
      REQUIRE(payload.size() < 65536);
      frame += static_cast<char>(0x80U | 126U);
      frame += static_cast<char>(payload.size() >> 8U);
      frame += static_cast<char>(payload.size() & 0xFFU);
    }
    frame += std::string(4, '\0');
    return send(frame + std::string(payload));
  }
  struct Frame {
    unsigned opcode = 0;  ///< 1 text, 8 close, 9 ping
    std::string payload;
    /// The code in a close frame (RFC 6455, 7.4).
    [[nodiscard]] int code() const {
      return payload.size() < 2
                 ? 0
                 : static_cast<unsigned char>(payload[0]) * 256 + static_cast<unsigned char>(payload[1]);
    }
  };
  std::optional<Frame> hear() {
    if (!fill(2)) return std::nullopt;
    Frame frame{static_cast<unsigned char>(inbox_[0]) & 0x0FU, {}};
    std::size_t length = static_cast<unsigned char>(inbox_[1]);
    std::size_t header = 2;
    if (length >= 126) {
      header = length == 126 ? 4 : 10;
      if (!fill(header)) return std::nullopt;
      length = 0;
      for (std::size_t i = 2; i < header; ++i) length = length * 256 + static_cast<unsigned char>(inbox_[i]);
    }
    if (!fill(header + length)) return std::nullopt;
    frame.payload = inbox_.substr(header, length);
    inbox_.erase(0, header + length);
    return frame;
  }

 private:
  bool receive() {
    std::array<char, 65536> bytes{};
    const auto count = ::recv(socket_, bytes.data(), bytes.size(), 0);
    if (count < 0 && (errno == EAGAIN || errno == EWOULDBLOCK)) FAIL("waited in vain");
    if (count <= 0) return false;
    inbox_.append(bytes.data(), static_cast<std::size_t>(count));
    return true;
  }
  bool fill(std::size_t size) {
    while (inbox_.size() < size)
      if (!receive()) return false;
    return true;
  }
  std::optional<std::size_t> find_in_inbox(std::string_view what) {
    for (;;) {
      if (const auto at = inbox_.find(what); at != std::string::npos) return at;
      if (!receive()) return std::nullopt;
    }
  }

  int socket_;
  std::string inbox_;
};

/// The handshake of RFC 6455, 1.3, with its own key.
inline std::string handshake(const std::string& path = "/api/live", const std::string& further = {},
                             const std::string& host = "127.0.0.1") {
  return "GET " + path + " HTTP/1.1\r\nHost: " + host +
         "\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
         "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n" +
         further + "\r\n";
}

inline std::string get(const std::string& path, const std::string& further = {}) {
  return "GET " + path + " HTTP/1.1\r\nHost: 127.0.0.1\r\n" + further + "\r\n";
}

inline std::string post(const std::string& path, const std::string& body, const std::string& further = {}) {
  return "POST " + path +
         " HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nContent-Length: " +
         std::to_string(body.size()) + "\r\n" + further + "\r\n" + body;
}

}  // namespace emberline::test
