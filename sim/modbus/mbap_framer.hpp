#pragma once

#include <cstdint>
#include <optional>
#include <variant>

#include "sim/modbus/bytes.hpp"

namespace emberline::modbus {

/// A Modbus TCP request: the MBAP header's fields and the PDU (Messaging on TCP/IP V1.0b, 3.1.3).
struct MbapRequest {
  std::uint16_t transaction;
  std::uint8_t unit;
  Bytes pdu;
};

/// What the stream said that is no request.
struct MbapFault {
  enum class Kind {
    wrong_protocol,  ///< protocol id other than 0: the ADU is passed over in silence
    bad_length,      ///< length below 2 or above 254: the stream cannot be followed any more, close the
                     ///< connection
  };
  Kind kind;
};

/// Cuts a TCP stream into ADUs, whatever the segments. No I/O, no clock; holds at most one ADU (260 bytes)
/// beyond what poll() has not fetched yet. After bad_length it swallows everything.
class MbapFramer {
 public:
  using Outcome = std::variant<MbapRequest, MbapFault>;
  void receive(ByteView bytes);
  /// The next request or fault; call until empty.
  [[nodiscard]] std::optional<Outcome> poll();
  /// True once bad_length was met.
  [[nodiscard]] bool lost() const;
};

/// MBAP header + PDU as they go out.
[[nodiscard]] Bytes mbap_frame(std::uint16_t transaction, std::uint8_t unit, ByteView pdu);

}  // namespace emberline::modbus
