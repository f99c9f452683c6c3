#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <optional>
#include <string>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <poll.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "sim/base/plain_text.hpp"
#include "sim/io/control/control.hpp"

namespace emberline::io {
namespace {

using Clock = std::chrono::steady_clock;
constexpr auto kPatience = std::chrono::seconds{5};
constexpr std::size_t kLongestAnswer =
    16 * 1024 * 1024;  // the traffic of some thousands of masters and units

class Socket {
 public:
  Socket() : number_(::socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0)) {}
  ~Socket() {
    if (number_ >= 0) {
      ::close(number_);
    }
  }
  Socket(const Socket&) = delete;
  Socket& operator=(const Socket&) = delete;
  [[nodiscard]] int number() const { return number_; }

 private:
  int number_;
};

std::string words_of(int error) { return std::generic_category().message(error); }

Told nobody(std::string sentence) { return {Told::Status::nobody_there, std::move(sentence)}; }

Told nobody_answers(const std::string& path) {
  return nobody("nobody answers behind " + path + " within " + std::to_string(kPatience.count()) + " s");
}

/// False when the time is over.
bool wait_for(int socket, short what, Clock::time_point until) {
  for (;;) {
    const auto left = std::chrono::ceil<std::chrono::milliseconds>(until - Clock::now());
    if (left.count() <= 0) {
      return false;
    }
    struct pollfd state {
      socket, what, 0
    };
    const int ready = ::poll(&state, 1, static_cast<int>(left.count()));
    if (ready > 0) {
      return true;
    }
    if (ready < 0 && errno != EINTR) {
      return false;
    }
  }
}

/// What keeps us from talking to whoever is behind `path`.
std::optional<std::string> connect_to(int socket, const std::string& path, Clock::time_point until) {
  struct sockaddr_un address {};
  if (path.empty() || path.size() >= sizeof(address.sun_path)) {
    return "cannot ask at " + path + ": the path of a Unix socket takes 1 to " +
           std::to_string(sizeof(address.sun_path) - 1) + " characters";
  }
  address.sun_family = AF_UNIX;
  std::memcpy(address.sun_path, path.data(), path.size());
  while (::connect(socket, reinterpret_cast<const sockaddr*>(&address), sizeof(address)) != 0) {
    // EAGAIN: its queue of callers is full.
    if (errno == EAGAIN && Clock::now() < until) {
      ::poll(nullptr, 0, 10);
    } else if (errno != EINTR) {
      const std::string why =
          errno == ENOENT || errno == ECONNREFUSED ? "no bench is running there" : words_of(errno);
      return "nobody there behind " + path + ": " + why;
    }
  }
  return std::nullopt;
}

bool send_all(int socket, std::string_view text, Clock::time_point until) {
  while (!text.empty()) {
    const ssize_t sent = ::send(socket, text.data(), text.size(), MSG_NOSIGNAL);
    if (sent > 0) {
      text.remove_prefix(static_cast<std::size_t>(sent));
    } else if (errno == EAGAIN) {
      if (!wait_for(socket, POLLOUT, until)) {
        return false;
      }
    } else if (errno != EINTR) {
      return false;
    }
  }
  return true;
}

/// Whoever is behind a socket may answer anything, and answers are shown. Tabs stay: lines break there.
std::string plain_answer(std::string line) {
  std::replace(line.begin(), line.end(), '\t', '\n');  // of which a line has none
  line = plain_lines(std::move(line));
  std::replace(line.begin(), line.end(), '\n', '\t');
  return line;
}

std::optional<std::string> receive_line(int socket, Clock::time_point until) {
  std::string text;
  std::array<char, 16 * 1024> inbox{};
  while (text.size() < kLongestAnswer && wait_for(socket, POLLIN, until)) {
    const ssize_t count = ::recv(socket, inbox.data(), inbox.size(), 0);
    if (count > 0) {
      const auto known = text.size();
      text.append(inbox.data(), static_cast<std::size_t>(count));
      if (const auto end = text.find('\n', known); end != std::string::npos) {
        text.resize(end);
        return plain_answer(std::move(text));
      }
    } else if (count == 0 || (errno != EAGAIN && errno != EINTR)) {
      break;
    }
  }
  return std::nullopt;
}

}  // namespace

Told tell(const std::string& path, const std::string& line) {
  if (line.find('\n') != std::string::npos) {
    return {Told::Status::not_understood, "expected one line, such as \"cut field\""};
  }
  const auto until = Clock::now() + kPatience;
  const Socket socket;
  if (socket.number() < 0) {
    return nobody("the system gives no socket: " + words_of(errno));
  }
  if (const auto problem = connect_to(socket.number(), path, until)) {
    return nobody(*problem);
  }
  if (!send_all(socket.number(), line + "\n", until)) {
    return nobody_answers(path);
  }
  const auto answer = receive_line(socket.number(), until);
  if (!answer) {
    return nobody_answers(path);
  }
  constexpr std::string_view kError = "error ";
  if (answer->starts_with(kError)) {
    return {Told::Status::not_understood, answer->substr(kError.size())};
  }
  if (*answer == "pong" || answer->starts_with("ok")) {
    return {Told::Status::done, *answer};
  }
  return nobody("what is behind " + path + " is no bench: it answers with other words");
}

}  // namespace emberline::io
