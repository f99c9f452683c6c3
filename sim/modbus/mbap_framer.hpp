#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <deque>
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
    wrong_protocol,  ///< protocol id other than 0: the ADU is passed over in silence; told when it is whole
    bad_length,      ///< length below 2 or above 254, or one that everything else in the ADU contradicts: the
                     ///< stream cannot be followed any more, close the connection
  };
  Kind kind;
  /// The ADU, as it came; of bad_length as much of it as was there when it was found out, and what stood
  /// behind it in the same piece: 260 bytes in all at most.
  Bytes bytes;
};

/// Cuts a TCP stream into ADUs, whatever the segments. No I/O, no clock; holds at most one ADU (260 bytes)
/// beyond what poll() has not fetched yet. After bad_length it swallows everything.
///
/// TCP frames carry no CRC, and a length that is wrong puts every later request out of step, where data could
/// be carried out as commands. So a length is also bad when it is not the one that the function code implies,
/// for the functions we answer; for 0F and 10 when it agrees neither with the byte count nor with the
/// quantity (if it agrees with one of them the other is wrong, and the request is answered with exception
/// 03).
class MbapFramer {
 public:
  using Outcome = std::variant<MbapRequest, MbapFault>;
  void receive(ByteView bytes);
  /// The next request or fault; call until empty.
  [[nodiscard]] std::optional<Outcome> poll();
  /// True once bad_length was met.
  [[nodiscard]] bool lost() const;
  /// True in the midst of an ADU of another protocol, from its header on.
  [[nodiscard]] bool passes_over() const { return passed_over_ && prefix_size_ == kPrefix; }

 private:
  std::size_t take(ByteView bytes);  // up to the end of what has begun; how many that were
  void judge_header();
  void judge_adu();
  void lose();
  [[nodiscard]] Bytes as_it_came() const;

  static constexpr std::size_t kPrefix = 6;  // transaction, protocol id, length

  std::array<std::uint8_t, kPrefix> prefix_{};
  std::size_t prefix_size_ = 0;
  std::size_t length_ = 0;    // what the length field says
  bool passed_over_ = false;  // this ADU is of another protocol
  Bytes body_;                // unit id and PDU, or what another protocol has there
  bool lost_ = false;
  std::deque<Outcome> ready_;
};

/// The bytes of the ADU at the beginning of a stream, by its length field (Messaging on TCP/IP V1.0b, 3.1.3);
/// nothing while that is not there, 0 when no ADU can have such a length.
[[nodiscard]] std::optional<std::size_t> mbap_adu_size(ByteView stream);
/// The bytes of an MBAP header: transaction, protocol id, length, unit id.
inline constexpr std::size_t kMbapHeader = 7;
/// MBAP header + PDU as they stand on the wire, instead of what is in `frame`.
void put_mbap_frame(std::uint16_t transaction, std::uint8_t unit, ByteView pdu, Bytes& frame);
/// The same.
[[nodiscard]] Bytes mbap_frame(std::uint16_t transaction, std::uint8_t unit, ByteView pdu);

}  // namespace emberline::modbus
