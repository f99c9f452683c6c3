#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "sim/modbus/bytes.hpp"

namespace emberline::io {

/// An end of a connection as a capture shows it.
struct WireEnd {
  std::array<std::uint8_t, 4> address{};  ///< IPv4
  std::uint16_t port = 0;
};

/// The two ends of what one master and the bench say to each other.
struct WireEnds {
  WireEnd master;
  WireEnd bench;
};

/// A packet of a capture, without the capture's own headers.
struct WirePacket {
  bool to_master = false;
  modbus::Bytes bytes;
};

/// An RTU frame behind the tags of link type 252: they name the dissector "mbrtu" and the two ends, so that a
/// reader tells queries from answers. Lengths of tags include their padding, as readers expect.
[[nodiscard]] modbus::Bytes upper_pdu(const WireEnds& ends, bool to_master, modbus::ByteView frame);

/// How a TCP connection came to its end.
enum class Ending : std::uint8_t { by_master, by_bench, reset_by_bench };

/// The IPv4 packets (RFC 791) of one TCP connection (RFC 9293) as they might have stood on a wire: a
/// handshake, the bytes in segments of at most 1460 bytes, each acknowledged with the answer or before the
/// same end's next segment, and the closing. Nothing is lost, nothing comes twice.
class TcpTrace {
 public:
  explicit TcpTrace(WireEnds ends);

  [[nodiscard]] std::vector<WirePacket> handshake();
  [[nodiscard]] std::vector<WirePacket> data(bool to_master, modbus::ByteView bytes);
  [[nodiscard]] std::vector<WirePacket> closing(Ending ending);

 private:
  struct Side {
    std::uint32_t next = 0;   ///< sequence number of the next byte
    std::uint32_t acked = 0;  ///< by the other side
  };
  void acknowledge(bool to_master, std::vector<WirePacket>& packets);
  [[nodiscard]] WirePacket segment(bool to_master, unsigned flags, modbus::ByteView bytes);
  [[nodiscard]] Side& side(bool to_master) { return to_master ? bench_ : master_; }

  WireEnds ends_;
  Side master_;
  Side bench_;
};

/// The Internet checksum (RFC 1071): over a header that holds its own checksum it is 0.
[[nodiscard]] std::uint16_t internet_checksum(modbus::ByteView bytes);

}  // namespace emberline::io
