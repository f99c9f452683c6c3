#include "sim/io/line/wire_packets.hpp"

#include <algorithm>
#include <cstddef>
#include <string_view>
#include <utility>

namespace emberline::io {
namespace {

using modbus::Bytes;
using modbus::ByteView;

// Tags of link type 252 (exported_pdu_tlvs.h, as its readers have them).
constexpr std::uint16_t kDissectorName = 12;
constexpr std::uint16_t kSourceAddress = 20;
constexpr std::uint16_t kDestinationAddress = 21;
constexpr std::uint16_t kSourcePort = 25;
constexpr std::uint16_t kDestinationPort = 26;
constexpr std::uint16_t kProtocolText = 33;
constexpr std::uint16_t kEndOfTags = 0;

// Flags of a TCP header (RFC 9293, 3.1).
constexpr unsigned kFin = 0x01;
constexpr unsigned kSyn = 0x02;
constexpr unsigned kRst = 0x04;
constexpr unsigned kPsh = 0x08;
constexpr unsigned kAck = 0x10;

constexpr std::size_t kSegmentMost = 1460;  // what fits an Ethernet frame
constexpr std::size_t kIpHeader = 20;
constexpr std::size_t kTcpHeader = 20;
constexpr std::size_t kMssOption = 4;

void put16(Bytes& bytes, std::size_t value) {
  bytes.push_back(static_cast<std::uint8_t>((value >> 8U) & 0xFFU));
  bytes.push_back(static_cast<std::uint8_t>(value & 0xFFU));
}

void put32(Bytes& bytes, std::uint32_t value) {
  put16(bytes, value >> 16U);
  put16(bytes, value & 0xFFFFU);
}

void put(Bytes& bytes, ByteView what) { bytes.insert(bytes.end(), what.begin(), what.end()); }

void set_checksum(Bytes& bytes, std::size_t index, std::uint16_t checksum) {
  bytes[index] = static_cast<std::uint8_t>(checksum >> 8U);
  bytes[index + 1] = static_cast<std::uint8_t>(checksum & 0xFFU);
}

void put_text_tag(Bytes& bytes, std::uint16_t tag, std::string_view text) {
  const std::size_t padded = text.size() / 4 * 4 + 4;  // one zero at least, readers take it for a C string
  put16(bytes, tag);
  put16(bytes, padded);
  for (std::size_t i = 0; i < padded; ++i)
    bytes.push_back(i < text.size() ? static_cast<std::uint8_t>(text[i]) : std::uint8_t{0});
}

void put_address_tag(Bytes& bytes, const WireEnd& end, std::uint16_t address_tag) {
  put16(bytes, address_tag);
  put16(bytes, end.address.size());
  put(bytes, end.address);
}

void put_port_tag(Bytes& bytes, const WireEnd& end, std::uint16_t tag) {
  put16(bytes, tag);
  put16(bytes, 4);
  put32(bytes, end.port);
}

/// A TCP header with its payload; the checksum covers the pseudo-header too (RFC 9293, 3.1).
Bytes tcp_part(const WireEnd& from, const WireEnd& to, std::uint32_t sequence, std::uint32_t acknowledged,
               unsigned flags, ByteView payload) {
  const std::size_t options = (flags & kSyn) != 0 ? kMssOption : 0;
  const std::size_t length = kTcpHeader + options + payload.size();
  Bytes bytes;
  bytes.reserve(12 + length);
  put(bytes, from.address);
  put(bytes, to.address);
  put16(bytes, 6);  // the protocol
  put16(bytes, length);
  const std::size_t begin = bytes.size();
  put16(bytes, from.port);
  put16(bytes, to.port);
  put32(bytes, sequence);
  put32(bytes, acknowledged);
  put16(bytes, ((kTcpHeader + options) / 4) << 12U | flags);
  put16(bytes, 0xFFFF);  // window
  put32(bytes, 0);       // checksum, urgent pointer
  if (options != 0) put32(bytes, 0x02040000U | static_cast<std::uint32_t>(kSegmentMost));
  put(bytes, payload);
  set_checksum(bytes, begin + 16, internet_checksum(bytes));
  bytes.erase(bytes.begin(), bytes.begin() + static_cast<std::ptrdiff_t>(begin));
  return bytes;
}

}  // namespace

std::uint16_t internet_checksum(ByteView bytes) {
  std::uint64_t sum = 0;
  for (std::size_t i = 0; i < bytes.size(); ++i)
    sum += i % 2 == 0 ? static_cast<std::uint64_t>(bytes[i]) << 8U : bytes[i];
  while (sum > 0xFFFFU) sum = (sum & 0xFFFFU) + (sum >> 16U);
  return static_cast<std::uint16_t>(~sum & 0xFFFFU);
}

Bytes upper_pdu(const WireEnds& ends, bool to_master, ByteView frame) {
  const WireEnd& from = to_master ? ends.bench : ends.master;
  const WireEnd& to = to_master ? ends.master : ends.bench;
  Bytes bytes;
  put_text_tag(bytes, kDissectorName, "mbrtu");
  put_text_tag(bytes, kProtocolText, "Modbus RTU");  // stays where the dissector leaves a frame alone
  put_address_tag(bytes, from, kSourceAddress);
  put_address_tag(bytes, to, kDestinationAddress);
  put_port_tag(bytes, from, kSourcePort);
  put_port_tag(bytes, to, kDestinationPort);
  put16(bytes, kEndOfTags);
  put16(bytes, 0);
  put(bytes, frame);
  return bytes;
}

TcpTrace::TcpTrace(WireEnds ends) : ends_(ends) {}

WirePacket TcpTrace::segment(bool to_master, unsigned flags, ByteView payload) {
  const WireEnd& from = to_master ? ends_.bench : ends_.master;
  const WireEnd& to = to_master ? ends_.master : ends_.bench;
  Side& sender = side(to_master);
  Side& receiver = side(!to_master);
  const bool acknowledges = (flags & kAck) != 0;
  const Bytes tcp = tcp_part(from, to, sender.next, acknowledges ? receiver.next : 0, flags, payload);
  if (acknowledges) receiver.acked = receiver.next;
  // SYN and FIN count as a byte each (RFC 9293, 3.4).
  sender.next += static_cast<std::uint32_t>(payload.size()) + ((flags & (kSyn | kFin)) != 0 ? 1U : 0U);

  Bytes packet;
  packet.reserve(kIpHeader + tcp.size());
  put16(packet, 0x4500);  // version 4, five words of header
  put16(packet, kIpHeader + tcp.size());
  put16(packet, 0);       // no fragments, so it needs no number (RFC 6864)
  put16(packet, 0x4000);  // don't fragment
  put16(packet, 0x4006);  // 64 hops, TCP
  put16(packet, 0);
  put(packet, from.address);
  put(packet, to.address);
  set_checksum(packet, 10, internet_checksum(packet));
  put(packet, tcp);
  return {to_master, std::move(packet)};
}

void TcpTrace::acknowledge(bool to_master, std::vector<WirePacket>& packets) {
  const Side& sender = side(to_master);
  if (sender.acked != sender.next) packets.push_back(segment(!to_master, kAck, {}));
}

std::vector<WirePacket> TcpTrace::handshake() {
  std::vector<WirePacket> packets;
  packets.push_back(segment(false, kSyn, {}));
  packets.push_back(segment(true, kSyn | kAck, {}));
  packets.push_back(segment(false, kAck, {}));
  return packets;
}

std::vector<WirePacket> TcpTrace::data(bool to_master, ByteView bytes) {
  std::vector<WirePacket> packets;
  while (!bytes.empty()) {
    const std::size_t length = std::min(bytes.size(), kSegmentMost);
    acknowledge(to_master, packets);
    packets.push_back(segment(to_master, kPsh | kAck, bytes.first(length)));
    bytes = bytes.subspan(length);
  }
  return packets;
}

std::vector<WirePacket> TcpTrace::closing(Ending ending) {
  std::vector<WirePacket> packets;
  if (ending == Ending::reset_by_bench) {
    packets.push_back(segment(true, kRst | kAck, {}));
    return packets;
  }
  const bool by_bench = ending == Ending::by_bench;
  packets.push_back(segment(by_bench, kFin | kAck, {}));
  packets.push_back(segment(!by_bench, kFin | kAck, {}));
  packets.push_back(segment(by_bench, kAck, {}));
  return packets;
}

}  // namespace emberline::io
