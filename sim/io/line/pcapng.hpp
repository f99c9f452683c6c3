#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "sim/base/sim_time.hpp"
#include "sim/modbus/bytes.hpp"

/// The blocks of a capture file (IETF draft-ietf-opsawg-pcapng, sections 4.1 to 4.3), little-endian on every
/// machine, so that equal runs give equal files.
namespace emberline::io::pcapng {

/// What the packets of an interface begin with (the register of link-layer header types at tcpdump.org).
enum class LinkType : std::uint16_t {
  raw_ip = 101,     ///< an IPv4 header
  upper_pdu = 252,  ///< tags that name the dissector of what follows them
};

struct Interface {
  LinkType link_type = LinkType::raw_ip;
  std::string name;
  std::string description;
  std::optional<std::uint64_t> speed_bits_per_s;
};

/// Bits of Packet::flags (section 4.3.1, epb_flags). Seen from the bench: inbound is what masters say.
inline constexpr std::uint32_t kInbound = 1U;
inline constexpr std::uint32_t kOutbound = 2U;
inline constexpr std::uint32_t kCrcError = 1U << 24U;
inline constexpr std::uint32_t kTooLong = 1U << 25U;
inline constexpr std::uint32_t kTooShort = 1U << 26U;

struct Packet {
  std::uint32_t interface = 0;  ///< counts from 0 in the order the interfaces were described
  SimTime at;                   ///< written as nanoseconds since 1970-01-01
  std::uint32_t flags = 0;
  std::string_view comment;  ///< empty: none
  modbus::ByteView bytes;
};

/// The section header, which begins the file.
void append_section(modbus::Bytes& file);
/// One interface; all come before the first packet.
void append_interface(modbus::Bytes& file, const Interface& interface);
void append_packet(modbus::Bytes& file, const Packet& packet);

}  // namespace emberline::io::pcapng
