#include "sim/io/line/wire_packets.hpp"

#include <array>

#include <doctest/doctest.h>

#include "tests/sim/io/line/capture_blocks.hpp"
#include "tests/sim/modbus/hex.hpp"

using namespace emberline;
using namespace emberline::test;

namespace {

constexpr io::WireEnds kEnds{{{198, 51, 100, 1}, 49152}, {{192, 0, 2, 1}, 502}};

/// What a receiver makes of the packets of one connection, after RFC 791 and RFC 9293. It keeps its own
/// books, and adds up checksums in another way than the sender.
class Receiver {
 public:
  void take(const std::vector<io::WirePacket>& packets) {
    for (const auto& packet : packets) take(packet);
  }
  void take(const io::WirePacket& packet) {
    const auto& bytes = packet.bytes;
    CHECK(bytes.at(0) == 0x45);
    CHECK(big(bytes, 2, 2) == bytes.size());
    CHECK(sums_to_ones({bytes.begin(), bytes.begin() + 20}));
    modbus::Bytes pseudo(bytes.begin() + 12, bytes.begin() + 20);
    for (const std::size_t byte :
         {std::size_t{0}, std::size_t{6}, (bytes.size() - 20) >> 8U, (bytes.size() - 20) & 255U})
      pseudo.push_back(static_cast<std::uint8_t>(byte));
    pseudo.insert(pseudo.end(), bytes.begin() + 20, bytes.end());
    CHECK(sums_to_ones(pseudo));
    CHECK(big(bytes, packet.to_master ? 20 : 22, 2) == 502);
    CHECK(big(bytes, packet.to_master ? 22 : 20, 2) == 49152);
    take_segment(packet);
  }

  std::array<modbus::Bytes, 2> streams;  // towards the bench, towards the master
  std::string flags;                     // of every packet, in order
  std::size_t longest = 0;               // payload
  int in_a_row_unacknowledged = 0;       // segments with payload

 private:
  static bool sums_to_ones(const modbus::Bytes& bytes) {
    std::uint32_t sum = 0;
    for (std::size_t i = 0; i < bytes.size(); i += 2) {
      sum += bytes[i] * 256U + (i + 1 < bytes.size() ? bytes[i + 1] : 0U);
      if (sum > 0xFFFF) sum = sum - 0x10000 + 1;
    }
    return sum == 0xFFFF;
  }
  void take_segment(const io::WirePacket& packet) {
    const auto& bytes = packet.bytes;
    const std::size_t from = packet.to_master ? 1 : 0;
    const std::size_t to = 1 - from;
    const unsigned set = bytes.at(33);
    const std::size_t header = std::size_t{bytes.at(32)} / 16 * 4;
    const modbus::Bytes payload(bytes.begin() + 20 + static_cast<std::ptrdiff_t>(header), bytes.end());
    CHECK(big(bytes, 24, 4) == next_[from]);
    if ((set & 0x10U) != 0) {
      CHECK(big(bytes, 28, 4) == next_[to]);
      unacknowledged_[to] = 0;
    }
    next_[from] += static_cast<std::uint32_t>(payload.size()) + ((set & 3U) != 0 ? 1U : 0U);
    streams[from].insert(streams[from].end(), payload.begin(), payload.end());
    longest = std::max(longest, payload.size());
    if (!payload.empty())
      in_a_row_unacknowledged = std::max(in_a_row_unacknowledged, ++unacknowledged_[from]);
    if (!flags.empty()) flags += ' ';
    flags += from == 0 ? '>' : '<';
    for (const auto& [bit, letter] : {std::pair{1U, 'F'}, {2U, 'S'}, {4U, 'R'}, {8U, 'P'}, {16U, 'A'}})
      if ((set & bit) != 0) flags += letter;
  }

  std::array<std::uint32_t, 2> next_{};
  std::array<int, 2> unacknowledged_{};
};

}  // namespace

TEST_CASE("the Internet checksum is that of the published example") {
  // RFC 1071, section 3: the sum of these is DDF2, the checksum its complement.
  CHECK(io::internet_checksum(hex("00 01 F2 03 F4 F5 F6 F7")) == 0x220D);
  CHECK(io::internet_checksum(hex("00 01 F2 03 F4 F5 F6 F7 22 0D")) == 0);
  CHECK(io::internet_checksum(hex("00 01 F2 03 F4 F5 F6 F7 22 0D 00")) == 0);  // an odd byte is padded
}

TEST_CASE("a TCP connection of a capture is one that a receiver can follow") {
  io::TcpTrace trace(kEnds);
  Receiver receiver;
  receiver.take(trace.handshake());
  receiver.take(trace.data(false, hex("15 01 00 00 00 06 FF 03 00 04 00 01")));
  receiver.take(trace.data(true, hex("15 01 00 00 00 05 FF 03 02 00 0A")));
  receiver.take(trace.closing(io::Ending::by_master));
  CHECK(receiver.streams[0] == hex("15 01 00 00 00 06 FF 03 00 04 00 01"));
  CHECK(receiver.streams[1] == hex("15 01 00 00 00 05 FF 03 02 00 0A"));
  CHECK(receiver.flags == ">S <SA >A >PA <PA >FA <FA >A");
}

TEST_CASE("a connection that the bench ends is closed or reset by the bench") {
  for (const auto& [ending, flags] : {std::pair{io::Ending::by_bench, ">S <SA >A >PA <FA >FA <A"},
                                      {io::Ending::reset_by_bench, ">S <SA >A >PA <RA"}}) {
    io::TcpTrace trace(kEnds);
    Receiver receiver;
    receiver.take(trace.handshake());
    receiver.take(trace.data(false, hex("15 01")));
    receiver.take(trace.closing(ending));
    CHECK(receiver.flags == flags);
  }
}

TEST_CASE("long and unanswered bytes of a TCP connection are cut and acknowledged") {
  io::TcpTrace trace(kEnds);
  Receiver receiver;
  receiver.take(trace.handshake());
  modbus::Bytes sent;
  for (int i = 0; i < 50; ++i) {
    modbus::Bytes piece(4001);
    for (std::size_t k = 0; k < piece.size(); ++k) piece[k] = static_cast<std::uint8_t>(k * 7 + sent.size());
    receiver.take(trace.data(false, piece));
    sent.insert(sent.end(), piece.begin(), piece.end());
  }
  CHECK(receiver.streams[0] == sent);
  CHECK(receiver.longest == 1460);
  CHECK(receiver.in_a_row_unacknowledged == 1);  // so no receiver's window is ever full
}
