#include "sim/io/master/answer_length.hpp"

namespace emberline::io {
namespace {

/// What follows the function code before libmodbus looks again.
std::size_t meta_length(unsigned function) {
  switch (function) {
    case 0x05:
    case 0x06:
    case 0x0F:
    case 0x10:
      return 4;
    case 0x16:
      return 6;
    default:
      return 1;  // a byte count, or an exception code
  }
}

bool has_byte_count(unsigned function) { return function <= 0x04 || function == 0x11 || function == 0x17; }

}  // namespace

std::size_t answer_length(modbus::ByteView bytes, bool rtu) {
  const std::size_t header = rtu ? 1 : 7;
  const std::size_t checksum = rtu ? 2 : 0;
  const std::size_t most = rtu ? 256 : 260;
  if (bytes.size() <= header) return 0;
  const unsigned function = bytes[header];
  const std::size_t told = header + 1 + meta_length(function);
  if (!has_byte_count(function)) return told + checksum;
  if (bytes.size() < told) return 0;
  const std::size_t whole = told + bytes[header + 1] + checksum;
  return whole > most ? told : whole;
}

}  // namespace emberline::io
