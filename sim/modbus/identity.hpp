#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <string>

#include "sim/modbus/bytes.hpp"

namespace emberline::modbus {

/// The objects of read device identification (MODBUS Application Protocol V1.1b3, 6.21): 00 to 02 are
/// mandatory (basic), 03 to 06 optional (regular), 07 to 7F reserved, 80 to FF private (extended).
enum ObjectId : std::uint8_t {
  kVendorName = 0x00,
  kProductCode = 0x01,
  kMajorMinorRevision = 0x02,
  kVendorUrl = 0x03,
  kProductName = 0x04,
  kModelName = 0x05,
  kUserApplicationName = 0x06,
  kFirstPrivateObject = 0x80,
};
/// The longest text that fits an answer of its own: 253 bytes of PDU without 7 of head, id and length.
inline constexpr std::size_t kObjectTextMax = 244;

/// What a slave says it is.
struct Identity {
  /// ASCII texts of 1 to kObjectTextMax bytes by object id. The three mandatory ones are always there; no
  /// reserved id is.
  std::map<std::uint8_t, std::string> objects;
  bool operator==(const Identity&) const = default;
};
/// An identity of the mandatory objects only.
[[nodiscard]] Identity basic_identity(std::string vendor_name, std::string product_code,
                                      std::string revision);

/// Conformity level: 81, 82 or 83 (hex): basic, regular or extended, with stream and individual access, by
/// the highest object there is.
[[nodiscard]] std::uint8_t conformity_level(const Identity& identity);

/// The answer to function code 2B. MEI types but 0E are 01. Streams (ReadDevId 01 to 03) begin at the object
/// asked for, or at the first if it is not among those of that level, and go on in the next answer where one
/// is full; asked for more than there is, the slave answers at its own level. Of one object (04) an id that
/// is not there is 02. Any other ReadDevId is 03, behind an unknown object's 02 (figure 30).
[[nodiscard]] Bytes answer_identification(ByteView pdu, const Identity& identity);

/// The answer to function code 11 (hex): byte count; server id: one byte, the slave's unit id; run indicator:
/// FF on, 00 off; additional data: vendor name, product code and revision, parted by blanks, as far as they
/// fit.
[[nodiscard]] Bytes answer_server_id(ByteView pdu, std::uint8_t unit_id, bool running,
                                     const Identity& identity);

}  // namespace emberline::modbus
