#pragma once

#include <cstddef>
#include <cstdint>
#include <iterator>

#include "sim/base/random.hpp"
#include "sim/modbus/bytes.hpp"

namespace emberline::test {

/// Request PDUs by chance: any bytes; or one of our functions with fields that are small often enough to be
/// right, and with a byte turned, missing or left over now and then. Never empty.
class RandomPdus {
 public:
  explicit RandomPdus(std::uint64_t seed) : random_(seed) {}

  modbus::Bytes next() {
    if (one_in(8)) return noise();
    auto pdu = likely();
    if (one_in(8)) pdu[below(pdu.size())] = static_cast<std::uint8_t>(below(256));
    if (one_in(16) && pdu.size() > 1) pdu.pop_back();
    if (one_in(16)) pdu.push_back(static_cast<std::uint8_t>(below(256)));
    return pdu;
  }

 private:
  std::size_t below(std::size_t end) { return static_cast<std::size_t>(random_.below(end)); }
  bool one_in(std::size_t n) { return below(n) == 0; }

  modbus::Bytes noise() {
    modbus::Bytes pdu(1 + below(20));
    for (auto& byte : pdu) byte = static_cast<std::uint8_t>(below(256));
    return pdu;
  }
  void word(modbus::Bytes& pdu, std::size_t value) {
    pdu.push_back(static_cast<std::uint8_t>(value >> 8u));
    pdu.push_back(static_cast<std::uint8_t>(value & 0xFFu));
  }
  std::size_t address() { return one_in(10) ? below(0x10000) : below(110); }
  void values(modbus::Bytes& pdu, std::size_t bytes) {
    pdu.push_back(static_cast<std::uint8_t>(bytes));
    for (std::size_t i = 0; i < bytes; ++i) pdu.push_back(static_cast<std::uint8_t>(below(256)));
  }

  modbus::Bytes likely() {
    constexpr std::uint8_t kCodes[] = {0x01, 0x02, 0x03, 0x04, 0x05, 0x06, 0x07, 0x08,
                                       0x0B, 0x0C, 0x0F, 0x10, 0x11, 0x16, 0x17, 0x2B};
    modbus::Bytes pdu{kCodes[below(std::size(kCodes))]};
    const std::size_t count = 1 + below(20);
    switch (pdu[0]) {
      case 0x05:
        word(pdu, address());
        word(pdu, one_in(2) ? 0xFF00 : 0x0000);
        break;
      case 0x08:
        word(pdu, below(0x16));
        word(pdu, one_in(4) ? 0xFF00 : 0x0000);
        break;
      case 0x0F:
        word(pdu, address());
        word(pdu, count);
        values(pdu, (count + 7) / 8);
        break;
      case 0x10:
        word(pdu, address());
        word(pdu, count);
        values(pdu, 2 * count);
        break;
      case 0x16:
        word(pdu, address());
        word(pdu, below(0x10000));
        word(pdu, below(0x10000));
        break;
      case 0x17:
        word(pdu, address());
        word(pdu, 1 + below(20));
        word(pdu, address());
        word(pdu, count);
        values(pdu, 2 * count);
        break;
      case 0x2B:
        pdu.push_back(one_in(8) ? 0x0D : 0x0E);
        pdu.push_back(static_cast<std::uint8_t>(below(6)));
        pdu.push_back(static_cast<std::uint8_t>(one_in(2) ? 0 : below(256)));
        break;
      case 0x07:
      case 0x0B:
      case 0x0C:
      case 0x11:
        break;
      default:
        word(pdu, address());
        word(pdu, one_in(10) ? below(0x10000) : count);
    }
    return pdu;
  }

  Random random_;
};

}  // namespace emberline::test
