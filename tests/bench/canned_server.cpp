#include <algorithm>
#include <array>
#include <cstdint>
#include <cstdlib>

#include <sys/epoll.h>
#include <sys/socket.h>
#include <unistd.h>

#include "tests/bench/load.hpp"
#include "tests/bench/plain_server.hpp"

namespace emberline::speed {
namespace {

constexpr std::size_t kMost = 64;  // requests that are taken at once

struct Canned {
  std::array<std::uint8_t, kMost * kRequest> requests{};
  std::array<std::uint8_t, kMost * kReadAnswer> answers{};
};

void watch(int poll, int socket) {
  epoll_event event{};
  event.events = EPOLLIN;
  event.data.fd = socket;
  if (::epoll_ctl(poll, EPOLL_CTL_ADD, socket, &event) != 0) ::_exit(3);
}

/// False when the connection is over.
bool answer(int socket, Canned& canned) {
  const auto count = ::recv(socket, canned.requests.data(), canned.requests.size(), 0);
  if (count <= 0 || static_cast<std::size_t>(count) % kRequest != 0) return false;
  std::size_t size = 0;
  for (std::size_t at = 0; at < static_cast<std::size_t>(count); at += kRequest) {
    const auto* const request = canned.requests.data() + at;
    auto* const answer = canned.answers.data() + size;
    if (request[7] == 0x03) {
      static constexpr std::array<std::uint8_t, 7> kHead{0, 0, 0, kReadAnswer - 6, 1, 0x03, 2 * kRead};
      std::copy_n(request, 2, answer);
      std::copy(kHead.begin(), kHead.end(), answer + 2);
      size += kReadAnswer;
    } else {
      std::copy_n(request, kRequest, answer);  // an accepted write is answered by itself
      size += kRequest;
    }
  }
  return ::send(socket, canned.answers.data(), size, MSG_NOSIGNAL) == static_cast<ssize_t>(size);
}

}  // namespace

void serve_canned(int listener) {
  static Canned canned;
  std::array<epoll_event, 256> events{};
  const int poll = ::epoll_create1(EPOLL_CLOEXEC);
  watch(poll, listener);
  while (true) {
    const int ready = ::epoll_wait(poll, events.data(), static_cast<int>(events.size()), -1);
    for (int i = 0; i < ready; ++i) {
      const int socket = events[static_cast<std::size_t>(i)].data.fd;
      if (socket == listener) {
        watch(poll, ::accept(listener, nullptr, nullptr));
      } else if (!answer(socket, canned)) {
        ::close(socket);
      }
    }
  }
}

}  // namespace emberline::speed
