#pragma once

#include <array>
#include <chrono>
#include <cstdint>
#include <functional>
#include <vector>

#include "tests/bench/measure.hpp"

namespace emberline::speed {

/// What is asked of every server: 03 of kRead registers from 0 on, or 06 of register kRead, both of unit 1.
inline constexpr std::uint8_t kRead = 16;
inline constexpr std::size_t kRequest = 12;                 ///< bytes of either
inline constexpr std::uint8_t kReadAnswer = 9 + 2 * kRead;  ///< bytes of the answer to 03
enum class Ask : std::uint8_t { read, write };

struct Answers {
  std::uint64_t count = 0;
  double seconds = 0.0;
  Histogram took;  ///< of each, from before its request was sent until it was read
};

/// Masters that do nothing but ask: raw sockets in one thread that waits in epoll (looks all the time where
/// it has a processor of its own), as each answer comes the next request goes out. Every answer is checked:
/// transaction, protocol, length, unit, function code, what a write echoes. What is not as it has to be, and
/// silence of 20 s, ends the program.
class Load {
 public:
  /// `at_once`: how many requests each connection sends in one write, and waits for the answers to all.
  Load(int port, int connections, int at_once = 1);
  ~Load();
  Load(const Load&) = delete;
  Load& operator=(const Load&) = delete;

  /// Asks for so long, and goes on until what is on its way has come. `beside` is called all the time.
  Answers ask(Ask what, std::chrono::nanoseconds length, const std::function<void()>& beside = {});
  /// The registers of the last answer to 03 that came.
  [[nodiscard]] std::array<std::uint16_t, kRead> last_read() const;

 private:
  struct Connection {
    int socket = -1;
    std::uint16_t transaction = 0;
    int outstanding = 0;
    std::size_t held = 0;  ///< bytes of an answer that is not whole yet
    Clock::time_point asked{};
    std::vector<std::uint8_t> bytes;
  };
  void send(Connection& connection, Ask what);
  void take(Connection& connection, Ask what);
  void check(const std::uint8_t* answer, std::size_t size, std::uint16_t transaction, Ask what) const;

  std::vector<Connection> connections_;
  std::vector<std::uint8_t> requests_;
  std::array<std::uint8_t, kReadAnswer> last_{};
  int poll_;
  int at_once_;
  int port_;
};

}  // namespace emberline::speed
