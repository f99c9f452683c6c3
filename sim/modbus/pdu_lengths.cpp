#include <cstddef>

#include "sim/modbus/pdu.hpp"

namespace emberline::modbus {
namespace {

using Length = std::optional<std::size_t>;

/// A length that is told by a byte count at `index`, once that byte is there.
Length counted(ByteView pdu, std::size_t index) {
  if (pdu.size() <= index) return std::nullopt;
  return index + 1 + pdu[index];
}

/// Read device identification: the number of objects, then each with its id and length.
Length identification_length(ByteView pdu) {
  constexpr std::size_t kHead = 7;
  if (pdu.size() < kHead) return std::nullopt;
  std::size_t length = kHead;
  for (int objects = pdu[kHead - 1]; objects > 0; --objects) {
    if (pdu.size() <= length + 1) return std::nullopt;
    length += std::size_t{2} + pdu[length + 1];
  }
  return length;
}

bool is_identification(ByteView pdu) { return pdu.size() >= 2 && pdu[1] == 0x0E; }

}  // namespace

std::optional<std::size_t> implied_request_length(ByteView pdu) {
  if (pdu.empty()) return std::nullopt;
  switch (pdu[0]) {  // Application Protocol V1.1b3, section 6
    case 0x01:
    case 0x02:
    case 0x03:
    case 0x04:
    case 0x05:
    case 0x06:
    case 0x08:  // sub-function and one data field; a longer loop-back (08/00) is left to silence
      return 5;
    case 0x07:
    case 0x0B:
    case 0x0C:
    case 0x11:
      return 1;
    case 0x0F:
    case 0x10:
      return counted(pdu, 5);
    case 0x16:
      return 7;
    case 0x17:
      return counted(pdu, 9);
    case 0x2B:  // only its MEI type 0E has a length we know
      return is_identification(pdu) ? Length{4} : std::nullopt;
    default:
      return std::nullopt;
  }
}

std::optional<std::size_t> implied_answer_length(ByteView pdu) {
  if (pdu.empty()) return std::nullopt;
  if ((pdu[0] & 0x80u) != 0) return 2;
  switch (pdu[0]) {  // Application Protocol V1.1b3, section 6
    case 0x01:
    case 0x02:
    case 0x03:
    case 0x04:
    case 0x0C:
    case 0x11:
    case 0x14:
    case 0x15:
    case 0x17:
      return counted(pdu, 1);
    case 0x05:
    case 0x06:
    case 0x0B:
    case 0x0F:
    case 0x10:
      return 5;
    case 0x07:
      return 2;
    case 0x08:  // the loop-back 08/00 gives back as much as it got
      if (pdu.size() < 3 || (pdu[1] == 0 && pdu[2] == 0)) return std::nullopt;
      return 5;
    case 0x16:
      return 7;
    case 0x18:  // a byte count of two bytes
      if (pdu.size() < 3) return std::nullopt;
      return std::size_t{3} + (std::size_t{pdu[1]} << 8u) + pdu[2];
    case 0x2B:
      return is_identification(pdu) ? identification_length(pdu) : std::nullopt;
    default:
      return std::nullopt;
  }
}

}  // namespace emberline::modbus
