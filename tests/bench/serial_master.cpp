#include "tests/bench/serial_master.hpp"

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <span>

#include <fcntl.h>
#include <termios.h>
#include <unistd.h>

#include "sim/modbus/crc.hpp"

namespace emberline::speed {
namespace {

constexpr auto kPatience = std::chrono::seconds{5};

void add_crc(std::span<std::uint8_t> frame) {
  const auto crc = modbus::crc16({frame.data(), frame.size() - 2});
  frame[frame.size() - 2] = static_cast<std::uint8_t>(crc & 0xFFU);
  frame[frame.size() - 1] = static_cast<std::uint8_t>(crc >> 8U);
}

}  // namespace

SerialMaster::SerialMaster(const std::string& path)
    : terminal_(::open(path.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC)) {
  termios settings{};
  if (terminal_ < 0 || ::tcgetattr(terminal_, &settings) != 0) give_up(path + ": " + std::strerror(errno));
  ::cfmakeraw(&settings);
  ::cfsetspeed(&settings, B19200);
  if (::tcsetattr(terminal_, TCSANOW, &settings) != 0) give_up(path + ": " + std::strerror(errno));
}

SerialMaster::~SerialMaster() { ::close(terminal_); }

void SerialMaster::ask(Ask what) {
  const bool read = what == Ask::read;
  const std::uint16_t value = read ? kRead : static_cast<std::uint16_t>(400 + ++count_ % 200);
  request_ = {1,
              static_cast<std::uint8_t>(read ? 0x03 : 0x06),
              0,
              read ? std::uint8_t{0} : kRead,
              static_cast<std::uint8_t>(value >> 8U),
              static_cast<std::uint8_t>(value & 0xFFU),
              0,
              0};
  add_crc(request_);
  what_ = what;
  held_ = 0;
  waiting_ = true;
  asked_ = Clock::now();
  if (::write(terminal_, request_.data(), request_.size()) != static_cast<ssize_t>(request_.size()))
    broken("a request does not go out over a pseudo-terminal");
}

bool SerialMaster::look() {
  const auto count = ::read(terminal_, answer_.data() + held_, answer_.size() - held_);
  if (count <= 0) {
    if (count < 0 && errno != EAGAIN && errno != EINTR) broken("a pseudo-terminal is gone");
    if (Clock::now() - asked_ > kPatience) broken("none for 5 s on a pseudo-terminal");
    return false;
  }
  came_ = Clock::now();
  held_ += static_cast<std::size_t>(count);
  const auto size = what_ == Ask::read ? kRtuReadAnswer : kRtuRequest;
  if (held_ >= 2 && answer_[1] != request_[1]) broken("exception on a pseudo-terminal");
  if (held_ < size) return false;
  if (held_ > size) broken("too long on a pseudo-terminal");
  if (what_ == Ask::write && !std::equal(request_.begin(), request_.end(), answer_.begin()))
    broken("a write is not answered by its echo");
  if (modbus::crc16({answer_.data(), size}) != 0) broken("a CRC on a pseudo-terminal");
  waiting_ = false;
  return true;
}

std::array<std::uint8_t, SerialMaster::kRtuReadAnswer> canned_read() {
  std::array<std::uint8_t, SerialMaster::kRtuReadAnswer> answer{1, 0x03, 2 * kRead};
  add_crc(answer);
  return answer;
}

}  // namespace emberline::speed
