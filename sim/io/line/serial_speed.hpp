#pragma once

#include <array>

#include <termios.h>

namespace emberline::io {

/// The usual speeds of serial ports: bit/s and the constants that stand for them in termios.
struct SerialSpeed {
  speed_t constant;
  int baud;
};
inline constexpr std::array kSerialSpeeds{
    SerialSpeed{B300, 300},     SerialSpeed{B600, 600},       SerialSpeed{B1200, 1200},
    SerialSpeed{B1800, 1800},   SerialSpeed{B2400, 2400},     SerialSpeed{B4800, 4800},
    SerialSpeed{B9600, 9600},   SerialSpeed{B19200, 19200},   SerialSpeed{B38400, 38400},
    SerialSpeed{B57600, 57600}, SerialSpeed{B115200, 115200}, SerialSpeed{B230400, 230400}};

/// 0 for any other.
constexpr int baud_of(speed_t constant) {
  for (const SerialSpeed& speed : kSerialSpeeds) {
    if (speed.constant == constant) {
      return speed.baud;
    }
  }
  return 0;
}

/// The default of RTU lines for any other (MODBUS over Serial Line V1.02, 2.5.1: 19200).
constexpr speed_t constant_of(int baud) {
  for (const SerialSpeed& speed : kSerialSpeeds) {
    if (speed.baud == baud) {
      return speed.constant;
    }
  }
  return B19200;
}

}  // namespace emberline::io
