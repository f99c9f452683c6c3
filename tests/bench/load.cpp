#include "tests/bench/load.hpp"

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <string>

#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <unistd.h>

namespace emberline::speed {
namespace {

constexpr auto kPatience = std::chrono::seconds{20};

int connected(int port) {
  const int socket = connection_to(port);
  constexpr int kOn = 1;
  if (socket < 0 || ::setsockopt(socket, IPPROTO_TCP, TCP_NODELAY, &kOn, sizeof kOn) != 0)
    give_up(std::string("no connection: ") + std::strerror(errno));
  return socket;
}

constexpr std::size_t answer_size(Ask what) { return what == Ask::read ? kReadAnswer : kRequest; }

/// A setpoint between 40 and 60 %, another one each time.
constexpr std::uint16_t setpoint(std::uint16_t transaction) {
  return static_cast<std::uint16_t>(400 + transaction % 200);
}

constexpr std::uint8_t high(std::uint16_t word) { return static_cast<std::uint8_t>(word >> 8U); }
constexpr std::uint8_t low(std::uint16_t word) { return static_cast<std::uint8_t>(word & 0xFFU); }

void write_request(std::uint8_t* bytes, std::uint16_t transaction, Ask what) {
  const bool read = what == Ask::read;
  const auto value = read ? std::uint16_t{kRead} : setpoint(transaction);
  const std::array<std::uint8_t, kRequest> request{high(transaction),
                                                   low(transaction),
                                                   0,
                                                   0,
                                                   0,
                                                   6,
                                                   1,
                                                   static_cast<std::uint8_t>(read ? 0x03 : 0x06),
                                                   0,
                                                   read ? std::uint8_t{0} : kRead,
                                                   high(value),
                                                   low(value)};
  std::copy(request.begin(), request.end(), bytes);
}

}  // namespace

Load::Load(int port, int connections, int at_once)
    : connections_(static_cast<std::size_t>(connections)),
      requests_(static_cast<std::size_t>(at_once) * kRequest),
      poll_(::epoll_create1(EPOLL_CLOEXEC)),
      at_once_(at_once),
      port_(port) {
  for (std::size_t i = 0; i < connections_.size(); ++i) {
    auto& connection = connections_[i];
    connection.socket = connected(port);
    connection.bytes.resize(static_cast<std::size_t>(at_once) * kReadAnswer);
    epoll_event event{};
    event.events = EPOLLIN;
    event.data.u64 = i;
    if (::epoll_ctl(poll_, EPOLL_CTL_ADD, connection.socket, &event) != 0) give_up("no epoll");
  }
}

Load::~Load() {
  for (const auto& connection : connections_) ::close(connection.socket);
  ::close(poll_);
}

void Load::send(Connection& connection, Ask what) {
  for (int n = 0; n < at_once_; ++n)
    write_request(requests_.data() + static_cast<std::size_t>(n) * kRequest,
                  static_cast<std::uint16_t>(connection.transaction + n), what);
  connection.outstanding = at_once_;
  connection.asked = Clock::now();
  if (::send(connection.socket, requests_.data(), requests_.size(), MSG_NOSIGNAL) !=
      static_cast<ssize_t>(requests_.size()))
    broken("a connection is over before its request");
}

void Load::check(const std::uint8_t* answer, std::size_t size, std::uint16_t transaction, Ask what) const {
  if (answer[7] & 0x80U) broken("exception " + std::to_string(answer[8]));
  if (what == Ask::write) {
    std::array<std::uint8_t, kRequest> expected{};
    write_request(expected.data(), transaction, what);
    if (!std::equal(expected.begin(), expected.end(), answer)) broken("a write is not answered by its echo");
    return;
  }
  const std::array<std::uint8_t, 9> expected{
      high(transaction), low(transaction), 0, 0, 0, static_cast<std::uint8_t>(size - 6), 1, 0x03, 2 * kRead};
  if (!std::equal(expected.begin(), expected.end(), answer)) broken("the head of a read's answer");
}

void Load::take(Connection& connection, Ask what) {
  const auto size = answer_size(what);
  const auto room = size * static_cast<std::size_t>(connection.outstanding) - connection.held;
  const auto count = ::recv(connection.socket, connection.bytes.data() + connection.held, room, MSG_DONTWAIT);
  if (count <= 0) {
    if (count < 0 && (errno == EAGAIN || errno == EINTR)) return;
    broken("a connection is over before its answer");
  }
  connection.held += static_cast<std::size_t>(count);
  std::size_t at = 0;
  for (; connection.held - at >= 9; at += size) {
    const auto* const answer = connection.bytes.data() + at;
    // An exception is shorter than what is waited for, and would not be seen.
    if (connection.held - at < size && (answer[7] & 0x80U) == 0) break;
    check(answer, size, connection.transaction++, what);
    if (what == Ask::read) std::copy_n(answer, kReadAnswer, last_.begin());
    --connection.outstanding;
  }
  std::copy(connection.bytes.begin() + static_cast<std::ptrdiff_t>(at),
            connection.bytes.begin() + static_cast<std::ptrdiff_t>(connection.held),
            connection.bytes.begin());
  connection.held -= at;
}

Answers Load::ask(Ask what, std::chrono::nanoseconds length, const std::function<void()>& beside) {
  Answers answers;
  std::array<epoll_event, 256> events{};
  const int wait = processors().count > 1 || beside ? 0 : 1000;
  const auto start = Clock::now();
  const auto deadline = start + length;
  auto last = start;
  auto open = connections_.size();
  for (auto& connection : connections_) send(connection, what);
  while (open > 0) {
    const int ready = ::epoll_wait(poll_, events.data(), static_cast<int>(events.size()), wait);
    if (beside) beside();
    if (ready <= 0) {
      if (Clock::now() - last > kPatience)
        broken(std::to_string(open) + " connections wait for 20 s (port " + std::to_string(port_) + ")");
      continue;
    }
    for (int i = 0; i < ready; ++i) {
      auto& connection = connections_[events[static_cast<std::size_t>(i)].data.u64];
      take(connection, what);
      if (connection.outstanding > 0) continue;
      last = Clock::now();
      if (last >= deadline) {
        --open;
        continue;
      }
      answers.count += static_cast<std::uint64_t>(at_once_);
      answers.took.add(last - connection.asked);
      send(connection, what);
    }
  }
  answers.seconds = std::chrono::duration<double>(length).count();
  return answers;
}

std::array<std::uint16_t, kRead> Load::last_read() const {
  std::array<std::uint16_t, kRead> values{};
  for (std::size_t i = 0; i < values.size(); ++i)
    values[i] = static_cast<std::uint16_t>(last_[9 + 2 * i] << 8U | last_[10 + 2 * i]);
  return values;
}

}  // namespace emberline::speed
