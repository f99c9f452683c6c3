// A line with noise on it: random bytes, and good frames with one bit turned.
#include <chrono>
#include <vector>

#include <doctest/doctest.h>

#include "sim/base/random.hpp"
#include "sim/modbus/crc.hpp"
#include "sim/modbus/mbap_framer.hpp"
#include "sim/modbus/pdu.hpp"
#include "sim/modbus/rtu_framer.hpp"
#include "tests/sim/modbus/hex.hpp"
#include "tests/sim/modbus/memory.hpp"

namespace emberline::modbus {
namespace {

using namespace std::chrono_literals;
using test::Memory;
using test::to_hex;

constexpr int kRandomStrings = 1'000;
constexpr int kFlippedFrames = 10'000;
constexpr RtuFramer::Timing kTimings[] = {
    {.inside_frame_max = 860us, .between_frames_min = 50ms},
    {.inside_frame_max = 860us, .between_frames_min = 2006us, .strict = true},
};

std::uint8_t byte_of(std::uint64_t number) { return static_cast<std::uint8_t>(number & 0xFFu); }

Bytes random_bytes(Random& random, std::size_t size) {
  Bytes bytes(size);
  for (auto& byte : bytes) byte = byte_of(random.bits());
  return bytes;
}

/// A well-formed request of one of our functions, somewhere in the first 1000 addresses.
Bytes random_request(Random& random) {
  constexpr std::uint8_t kFunctions[] = {0x01, 0x02, 0x03, 0x04, 0x05, 0x06, 0x0F, 0x10};
  const auto function = kFunctions[random.below(8)];
  const auto first = random.below(900);
  Bytes pdu = {function, byte_of(first >> 8u), byte_of(first)};
  if (function == 0x05) {
    pdu.push_back(random.below(2) == 0 ? 0x00 : 0xFF);
    pdu.push_back(0x00);
    return pdu;
  }
  const auto field = function == 0x06 ? random.below(0x10000) : 1 + random.below(100);
  pdu.push_back(byte_of(field >> 8u));
  pdu.push_back(byte_of(field));
  if (function < 0x0F) return pdu;
  const auto data = random_bytes(random, function == 0x0F ? (field + 7) / 8 : 2 * field);
  pdu.push_back(byte_of(data.size()));
  pdu.insert(pdu.end(), data.begin(), data.end());
  return pdu;
}

/// Feeds `bytes` in pieces, waits for silence, lets `memory` answer all requests, gives their number.
int answered_by_rtu(RtuFramer& framer, SimTime& now, ByteView bytes, Random& random, Memory& memory) {
  while (!bytes.empty()) {
    const auto size = 1 + random.below(bytes.size());
    framer.receive(bytes.first(size), now += 100us);
    bytes = bytes.subspan(size);
  }
  now += 1s;
  int answers = 0;
  while (const auto outcome = framer.poll(now)) {
    const auto* request = std::get_if<RtuRequest>(&*outcome);
    if (request == nullptr) continue;
    (void)answer(request->pdu, memory);
    ++answers;
  }
  return answers;
}

TEST_CASE("random bytes on a serial line get no answer and change nothing") {
  for (const auto& timing : kTimings) {
    CAPTURE(timing.strict);
    Random random(1);
    Memory memory(1000);
    RtuFramer framer(timing);
    SimTime now{};
    for (int i = 0; i < kRandomStrings; ++i) {
      CAPTURE(i);
      const auto bytes = random_bytes(random, random.below(300));
      CHECK(answered_by_rtu(framer, now, bytes, random, memory) == 0);
    }
    CHECK(memory.changes == 0);
    CHECK(answered_by_rtu(framer, now, rtu_frame(1, random_request(random)), random, memory) == 1);
  }
}

TEST_CASE("a serial frame with one bit turned gets no answer and changes nothing") {
  for (const auto& timing : kTimings) {
    CAPTURE(timing.strict);
    Random random(2);
    Memory memory(1000);
    RtuFramer framer(timing);
    SimTime now{};
    int answers = 0;
    for (int i = 0; i < kFlippedFrames; ++i) {
      auto frame = rtu_frame(byte_of(1 + random.below(247)), random_request(random));
      const auto bit = random.below(frame.size() * 8);
      frame[bit / 8] = static_cast<std::uint8_t>(frame[bit / 8] ^ (1u << (bit % 8)));
      answers += answered_by_rtu(framer, now, frame, random, memory);
    }
    CHECK(answers == 0);
    CHECK(memory.changes == 0);
    CHECK(answered_by_rtu(framer, now, rtu_frame(1, random_request(random)), random, memory) == 1);
  }
}

TEST_CASE("random bytes on a TCP connection change nothing") {
  Random random(3);
  Memory memory(1000);
  for (int i = 0; i < kRandomStrings; ++i) {
    CAPTURE(i);
    const auto bytes = random_bytes(random, random.below(600));
    MbapFramer framer;
    framer.receive(bytes);
    while (const auto outcome = framer.poll())
      if (const auto* request = std::get_if<MbapRequest>(&*outcome)) (void)answer(request->pdu, memory);
  }
  CHECK(memory.changes == 0);
}

TEST_CASE("a TCP frame with one bit turned in protocol id or length gets no answer, any other its own") {
  constexpr std::size_t kProtocolId = 2;
  constexpr std::size_t kUnit = 6;
  Random random(4);
  int silent = 0;
  int answered = 0;
  for (int i = 0; i < kFlippedFrames; ++i) {
    auto frame = mbap_frame(static_cast<std::uint16_t>(random.below(0x10000)), byte_of(random.bits()),
                            random_request(random));
    // Every other turned bit stands in the header, or long frames would leave it almost untouched.
    const auto bit = random.below((i % 2 == 0 ? 7 : frame.size()) * 8);
    const auto place = static_cast<std::size_t>(bit / 8);
    frame[place] = static_cast<std::uint8_t>(frame[place] ^ (1u << (bit % 8)));
    CAPTURE(to_hex(frame));

    MbapFramer framer;
    framer.receive(frame);
    std::vector<MbapRequest> requests;
    while (const auto outcome = framer.poll())
      if (const auto* request = std::get_if<MbapRequest>(&*outcome)) requests.push_back(*request);

    if (place >= kProtocolId && place < kUnit) {
      CHECK(requests.empty());
      ++silent;
      continue;
    }
    if (place == kUnit + 1 && frame[place] == 0x16) {  // a 06 made a mask write, which is two bytes longer
      CHECK(requests.empty());
      CHECK(framer.lost());
      continue;
    }
    REQUIRE(requests.size() == 1);
    CHECK(requests[0].transaction == ((frame[0] << 8) | frame[1]));
    CHECK(requests[0].unit == frame[kUnit]);
    CHECK(to_hex(requests[0].pdu) == to_hex(ByteView(frame).subspan(kUnit + 1)));
    Memory memory(1000);
    const auto reply = answer(requests[0].pdu, memory);
    const bool is_write = !refusal_of(reply) && reply[0] >= 0x05;
    CHECK(memory.changes == (is_write ? 1 : 0));
    CHECK((reply[0] | 0x80) == (frame[kUnit + 1] | 0x80));
    ++answered;
  }
  CHECK(silent > 1000);
  CHECK(answered > 1000);
}

}  // namespace
}  // namespace emberline::modbus
