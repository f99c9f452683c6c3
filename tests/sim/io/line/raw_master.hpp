#pragma once

#include <cerrno>
#include <string>

#include <arpa/inet.h>
#include <doctest/doctest.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

#include "sim/modbus/bytes.hpp"
#include "tests/sim/io/line/running.hpp"

namespace emberline::test {

using modbus::Bytes;

/// The far end of a line as plain bytes: what no Modbus library would ever send.
class RawMaster {
 public:
  static RawMaster pty(const std::string& path) {
    RawMaster master(::open(path.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC));
    REQUIRE(master.descriptor_ >= 0);
    return master;
  }
  static RawMaster tcp(std::uint16_t port) {
    RawMaster master(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0));
    struct sockaddr_in address {};
    address.sin_family = AF_INET;
    address.sin_port = htons(port);
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    REQUIRE(::connect(master.descriptor_, reinterpret_cast<sockaddr*>(&address), sizeof(address)) == 0);
    return master;
  }
  /// Takes over an open descriptor.
  explicit RawMaster(int descriptor) : descriptor_(descriptor) {}
  ~RawMaster() { close(); }
  RawMaster(RawMaster&& other) noexcept : descriptor_(std::exchange(other.descriptor_, -1)) {}
  RawMaster& operator=(RawMaster&&) = delete;

  void close() {
    if (descriptor_ >= 0) {
      ::close(descriptor_);
    }
    descriptor_ = -1;
  }
  [[nodiscard]] int descriptor() const { return descriptor_; }

  /// All of them, however long the far end takes to make room.
  void send(const Bytes& bytes) const {
    const Deadline deadline;
    for (std::size_t sent = 0; sent < bytes.size();) {
      const auto count = ::write(descriptor_, bytes.data() + sent, bytes.size() - sent);
      if (count >= 0) {
        sent += static_cast<std::size_t>(count);
        continue;
      }
      REQUIRE(errno == EAGAIN);
      deadline.check();
      struct pollfd room {
        descriptor_, POLLOUT, 0
      };
      (void)::poll(&room, 1, 50);
    }
  }
  /// The next `count` bytes, however long they take; fewer if the far end closed.
  [[nodiscard]] Bytes receive(std::size_t count) const {
    Bytes bytes(count);
    std::size_t got = 0;
    const Deadline deadline;
    while (got < count) {
      deadline.check();
      struct pollfd state {
        descriptor_, POLLIN, 0
      };
      if (::poll(&state, 1, 1000) == 0) {
        continue;
      }
      const ssize_t now = ::read(descriptor_, bytes.data() + got, count - got);
      if (now > 0) {
        got += static_cast<std::size_t>(now);
      } else if (now == 0 || (errno != EAGAIN && errno != EINTR)) {
        break;
      }
    }
    bytes.resize(got);
    return bytes;
  }
  /// Sets speed and stop bits as a program does that opens a serial port (raw mode).
  void set_serial(speed_t speed, bool two_stop_bits = false, bool echo = false) const {
    struct termios settings {};
    REQUIRE(::tcgetattr(descriptor_, &settings) == 0);
    ::cfmakeraw(&settings);
    ::cfsetspeed(&settings, speed);
    if (two_stop_bits) {
      settings.c_cflag |= CSTOPB;
    } else {
      settings.c_cflag &= ~static_cast<tcflag_t>(CSTOPB);
    }
    if (echo) {
      settings.c_lflag |= ECHO;
    }
    REQUIRE(::tcsetattr(descriptor_, TCSANOW, &settings) == 0);
  }

 private:
  int descriptor_ = -1;
};

}  // namespace emberline::test
