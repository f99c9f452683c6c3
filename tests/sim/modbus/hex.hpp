#pragma once

#include <cstdint>
#include <cstdio>
#include <stdexcept>
#include <string>
#include <string_view>

#include "sim/modbus/bytes.hpp"

namespace emberline::test {

/// "01 03 00 6B" as bytes, the way the standards print frames. Throws on anything else.
inline modbus::Bytes hex(std::string_view text) {
  modbus::Bytes bytes;
  int nibbles = 0;
  unsigned value = 0;
  for (const char c : text) {
    if (c == ' ') continue;
    const auto digit = std::string_view("0123456789ABCDEF").find(c);
    if (digit == std::string_view::npos) throw std::invalid_argument("no hexadecimal digit");
    value = value * 16 + static_cast<unsigned>(digit);
    if (++nibbles % 2 != 0) continue;
    bytes.push_back(static_cast<std::uint8_t>(value));
    value = 0;
  }
  if (nibbles % 2 != 0) throw std::invalid_argument("half a byte");
  return bytes;
}

/// The same form back, so that a failed check shows the frames.
inline std::string to_hex(modbus::ByteView bytes) {
  std::string text;
  for (const auto byte : bytes) {
    char digits[4];
    (void)std::snprintf(digits, sizeof digits, "%02X ", static_cast<unsigned>(byte));
    text += digits;
  }
  if (!text.empty()) text.pop_back();
  return text;
}

}  // namespace emberline::test
