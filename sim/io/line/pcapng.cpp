#include "sim/io/line/pcapng.hpp"

#include <algorithm>
#include <cstddef>

namespace emberline::io::pcapng {
namespace {

using modbus::Bytes;
using modbus::ByteView;

constexpr std::uint32_t kSectionHeader = 0x0A0D0D0A;
constexpr std::uint32_t kInterfaceDescription = 1;
constexpr std::uint32_t kEnhancedPacket = 6;
constexpr std::uint32_t kByteOrderMagic = 0x1A2B3C4D;
/// Type and total length before the body, total length again behind it.
constexpr std::size_t kAroundBody = 12;

namespace option {
constexpr std::uint16_t kEnd = 0;
constexpr std::uint16_t kComment = 1;
constexpr std::uint16_t kApplication = 4;  // of a section
constexpr std::uint16_t kName = 2;         // these four of an interface
constexpr std::uint16_t kDescription = 3;
constexpr std::uint16_t kSpeed = 8;
constexpr std::uint16_t kTimeResolution = 9;
constexpr std::uint16_t kFlags = 2;  // of a packet
}  // namespace option

/// An option's length has 16 bits.
constexpr std::size_t kLongestText = 0xFFFF;

template <class Number>
void put(Bytes& bytes, Number number) {
  for (std::size_t i = 0; i < sizeof(Number); ++i)
    bytes.push_back(static_cast<std::uint8_t>((number >> (8 * i)) & 0xFFU));
}

void put_padded(Bytes& bytes, ByteView what) {
  bytes.insert(bytes.end(), what.begin(), what.end());
  bytes.resize((bytes.size() + 3) / 4 * 4);
}

void put_option(Bytes& body, std::uint16_t code, ByteView value) {
  put(body, code);
  put(body, static_cast<std::uint16_t>(value.size()));
  put_padded(body, value);
}

void put_text(Bytes& body, std::uint16_t code, std::string_view text) {
  text = text.substr(0, std::min(text.size(), kLongestText));
  put_option(body, code, {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()});
}

template <class Number>
void put_number(Bytes& body, std::uint16_t code, Number number) {
  Bytes value;
  put(value, number);
  put_option(body, code, value);
}

void append_block(Bytes& file, std::uint32_t type, const Bytes& body) {
  const auto total = static_cast<std::uint32_t>(body.size() + kAroundBody);
  put(file, type);
  put(file, total);
  file.insert(file.end(), body.begin(), body.end());
  put(file, total);
}

}  // namespace

void append_section(Bytes& file) {
  Bytes body;
  put(body, kByteOrderMagic);
  put(body, std::uint16_t{1});  // version 1.0
  put(body, std::uint16_t{0});
  put(body, ~std::uint64_t{0});  // the section's length is not known beforehand
  put_text(body, option::kApplication, "Emberline");
  put_option(body, option::kEnd, {});
  append_block(file, kSectionHeader, body);
}

void append_interface(Bytes& file, const Interface& interface) {
  Bytes body;
  put(body, static_cast<std::uint16_t>(interface.link_type));
  put(body, std::uint16_t{0});  // reserved
  put(body, std::uint32_t{0});  // packets of any length
  put_text(body, option::kName, interface.name);
  put_text(body, option::kDescription, interface.description);
  if (interface.speed_bits_per_s) put_number(body, option::kSpeed, *interface.speed_bits_per_s);
  put_number(body, option::kTimeResolution, std::uint8_t{9});  // 10^-9 s
  put_option(body, option::kEnd, {});
  append_block(file, kInterfaceDescription, body);
}

void append_packet(Bytes& file, const Packet& packet) {
  const auto ns = static_cast<std::uint64_t>(packet.at.time_since_epoch().count());
  const auto length = static_cast<std::uint32_t>(packet.bytes.size());
  Bytes body;
  put(body, packet.interface);
  put(body, static_cast<std::uint32_t>(ns >> 32U));
  put(body, static_cast<std::uint32_t>(ns & 0xFFFFFFFFU));
  put(body, length);  // as captured
  put(body, length);  // as it was
  put_padded(body, packet.bytes);
  if (!packet.comment.empty()) put_text(body, option::kComment, packet.comment);
  put_number(body, option::kFlags, packet.flags);
  put_option(body, option::kEnd, {});
  append_block(file, kEnhancedPacket, body);
}

}  // namespace emberline::io::pcapng
