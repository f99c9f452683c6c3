#include "tests/bench/page_crowd.hpp"

#include <array>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <string_view>

#include <sys/epoll.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <unistd.h>

#include "tests/bench/measure.hpp"

namespace emberline::speed {
namespace {

void give_up(const char* what) {
  std::perror(what);
  std::exit(3);
}

void send_all(int socket, std::string_view text) {
  if (::send(socket, text.data(), text.size(), MSG_NOSIGNAL) != static_cast<ssize_t>(text.size()))
    give_up("a page cannot send");
}

/// A text in a frame as a client sends it (RFC 6455, 5.2), masked with zeros.
std::string framed(const std::string& text) {
  std::string frame = "\x81";
  frame += static_cast<char>(0x80U | text.size());
  return frame + std::string(4, '\0') + text;
}

/// A page that has connected and has said what the program's own page says.
int subscribed(int port) {
  const int page = connection_to(port);
  if (page < 0) give_up("a page cannot connect");
  send_all(page,
           "GET /api/live HTTP/1.1\r\nHost: 127.0.0.1\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
           "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n");
  std::array<char, 4096> answer{};
  if (::recv(page, answer.data(), answer.size(), 0) < 12 ||
      !std::string_view(answer.data()).starts_with("HTTP/1.1 101"))
    give_up("a page is not let in");
  send_all(page, framed(R"({"rate":10,"state":true,"journal_after":0,"traffic":true})"));
  return page;
}

}  // namespace

PageCrowd::PageCrowd(int port, int pages) : poll_(::epoll_create1(EPOLL_CLOEXEC)) {
  for (int i = 0; i < pages; ++i) {
    sockets_.push_back(subscribed(port));
    epoll_event event{};
    event.events = EPOLLIN;
    event.data.fd = sockets_.back();
    if (::epoll_ctl(poll_, EPOLL_CTL_ADD, sockets_.back(), &event) != 0) give_up("epoll");
  }
  thread_ = std::thread([this] { drain(); });
}

PageCrowd::~PageCrowd() {
  ended_ = true;
  thread_.join();
  for (const int socket : sockets_) ::close(socket);
  ::close(poll_);
}

void PageCrowd::drain() {
  constexpr int kLast = 19;
  ::setpriority(PRIO_PROCESS, static_cast<id_t>(::gettid()), kLast);
  std::array<epoll_event, 64> events{};
  while (!ended_) {
    const int ready = ::epoll_wait(poll_, events.data(), static_cast<int>(events.size()), 100);
    for (int i = 0; i < ready; ++i) {
      // MSG_TRUNC: a TCP socket throws the bytes away without copying them (tcp(7)).
      const auto count =
          ::recv(events[static_cast<std::size_t>(i)].data.fd, nullptr, 1 << 20, MSG_TRUNC | MSG_DONTWAIT);
      if (count > 0) bytes_ += static_cast<std::uint64_t>(count);
      if (count == 0) give_up("a page was parted with");
    }
  }
}

}  // namespace emberline::speed
