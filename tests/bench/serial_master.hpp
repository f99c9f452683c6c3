#pragma once

#include <array>
#include <cstdint>
#include <string>

#include "tests/bench/load.hpp"

namespace emberline::speed {

/// A master on a pseudo-terminal that never sleeps, so that what it measures is the other side. RTU frames of
/// unit 1, as Load has them. An answer that is not as it has to be, and none for 5 s, end the program.
class SerialMaster {
 public:
  static constexpr std::size_t kRtuRequest = 8;                 ///< bytes of either
  static constexpr std::size_t kRtuReadAnswer = 5 + 2 * kRead;  ///< bytes of the answer to 03
  /// Opens it at 19200 baud; a pseudo-terminal has no parity.
  explicit SerialMaster(const std::string& path);
  ~SerialMaster();
  SerialMaster(const SerialMaster&) = delete;
  SerialMaster& operator=(const SerialMaster&) = delete;

  /// Sends a request.
  void ask(Ask what);
  /// Looks once; true when the answer is whole. Then took() is the time since just before it was asked.
  [[nodiscard]] bool look();
  [[nodiscard]] Clock::duration took() const { return came_ - asked_; }
  [[nodiscard]] bool waiting() const { return waiting_; }

 private:
  int terminal_;
  Ask what_ = Ask::read;
  std::uint16_t count_ = 0;
  bool waiting_ = false;
  std::size_t held_ = 0;
  std::array<std::uint8_t, kRtuRequest> request_{};
  std::array<std::uint8_t, 256> answer_{};
  Clock::time_point asked_{}, came_{};
};

/// A canned answer to 03, with its CRC.
[[nodiscard]] std::array<std::uint8_t, SerialMaster::kRtuReadAnswer> canned_read();

}  // namespace emberline::speed
