#include "sim/modbus/crc.hpp"

#include <array>
#include <cassert>
#include <cstddef>

namespace emberline::modbus {
namespace {

/// What one byte does to the register; the bitwise procedure of Serial Line V1.02, 6.2.2, done 256 times.
constexpr std::array<std::uint16_t, 256> make_steps() {
  constexpr unsigned kReflectedPolynomial = 0xA001u;
  std::array<std::uint16_t, 256> steps{};
  for (unsigned byte = 0; byte < steps.size(); ++byte) {
    unsigned remainder = byte;
    for (int bit = 0; bit < 8; ++bit) {
      const bool carry = (remainder & 1u) != 0;
      remainder >>= 1u;
      if (carry) remainder ^= kReflectedPolynomial;
    }
    steps[byte] = static_cast<std::uint16_t>(remainder);
  }
  return steps;
}
constexpr auto kSteps = make_steps();

}  // namespace

std::uint16_t crc16(ByteView bytes) {
  unsigned crc = 0xFFFFu;
  for (const auto byte : bytes) crc = (crc >> 8u) ^ kSteps[(crc ^ byte) & 0xFFu];
  return static_cast<std::uint16_t>(crc);
}

Bytes rtu_frame(std::uint8_t address, ByteView pdu) {
  assert(pdu.size() <= 253);
  Bytes frame;
  frame.reserve(pdu.size() + 3);
  frame.push_back(address);
  frame.insert(frame.end(), pdu.begin(), pdu.end());
  const unsigned crc = crc16(frame);
  frame.push_back(static_cast<std::uint8_t>(crc & 0xFFu));
  frame.push_back(static_cast<std::uint8_t>(crc >> 8u));
  return frame;
}

}  // namespace emberline::modbus
