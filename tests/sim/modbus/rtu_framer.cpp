// Framing by implied length and CRC, the way it is done on an ordinary operating system.
#include "sim/modbus/rtu_framer.hpp"

#include <algorithm>
#include <chrono>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/modbus/crc.hpp"
#include "tests/sim/modbus/hex.hpp"
#include "tests/sim/modbus/outcomes.hpp"

namespace emberline::modbus {
namespace {

using namespace std::chrono_literals;
using test::all_outcomes;
using test::hex;
using test::to_hex;

constexpr RtuFramer::Timing kRelaxed{.inside_frame_max = 860us, .between_frames_min = 50ms};
const SimTime kStart = SimTime{} + 7s;

/// Requests whose length the function code implies, for unit 17; the CRC is added.
const char* const kImplied[] = {
    "01 00 13 00 13",
    "02 00 C4 00 16",
    "03 00 6B 00 03",
    "04 00 08 00 01",
    "05 00 AC FF 00",
    "06 00 01 00 03",
    "07",
    "08 00 00 A5 37",
    "0B",
    "0C",
    "0F 00 13 00 0A 02 CD 01",
    "10 00 01 00 02 04 00 0A 01 02",
    "11",
    "16 00 04 00 F2 00 25",
    "17 00 03 00 06 00 0E 00 03 06 00 FF 00 FF 00 FF",
    "2B 0E 01 00",
};
/// Requests that only silence can end: functions of unknown shape, and known ones with wrong lengths.
const char* const kEndedBySilence[] = {
    "18 04 DE",                                         // a function whose length we do not imply
    "14 0E 06 00 04 00 01 00 02 06 00 03 00 09 00 02",  // another
    "41",                                               // user defined
    "64 01 02 03 04 05 06",                             // user defined
    "00",                                               // no function
    "83 02",                                            // an exception answer
    "2B 0D 00",                                         // an MEI type of unknown shape
    "03 00 6B 00",                                      // a byte missing
    "03 00 6B 00 03 00",                                // a byte left over
    "10 00 01 00 02 04 00 0A 01",                       // a byte missing behind the byte count
    "08 00 00 A5 37 12 34",                             // a loop-back of four bytes
};

std::string only_request(const std::vector<std::string>& outcomes) {
  return outcomes.size() == 1 ? outcomes.front() : std::to_string(outcomes.size()) + " outcomes";
}

TEST_CASE("a request is there with its last byte, not after a silence") {
  for (const auto* pdu : kImplied) {
    CAPTURE(pdu);
    RtuFramer framer(kRelaxed);
    framer.receive(rtu_frame(17, hex(pdu)), kStart);
    CHECK(only_request(all_outcomes(framer, kStart)) == "request 17 at 7000000000: " + std::string(pdu));
    CHECK_FALSE(framer.wake_at().has_value());
  }
}

TEST_CASE("a frame cut at any place is the same request") {
  for (const auto* pdu : kImplied) {
    const auto frame = rtu_frame(17, hex(pdu));
    for (std::size_t cut = 1; cut < frame.size(); ++cut) {
      CAPTURE(pdu);
      CAPTURE(cut);
      RtuFramer framer(kRelaxed);
      framer.receive(ByteView(frame).first(cut), kStart);
      CHECK(all_outcomes(framer, kStart).empty());
      CHECK(framer.wake_at() == kStart + 50ms);
      framer.receive(ByteView(frame).subspan(cut), kStart + 49ms);  // the kernel was busy
      CHECK(only_request(all_outcomes(framer, kStart + 49ms)) ==
            "request 17 at 7049000000: " + std::string(pdu));
    }
  }
}

TEST_CASE("a frame that comes byte by byte is the same request") {
  for (const auto* pdu : kImplied) {
    CAPTURE(pdu);
    RtuFramer framer(kRelaxed);
    auto at = kStart;
    std::vector<std::string> outcomes;
    for (const auto byte : rtu_frame(17, hex(pdu))) {
      framer.receive(ByteView(&byte, 1), at += 1ms);
      for (auto& outcome : all_outcomes(framer, at)) outcomes.push_back(std::move(outcome));
    }
    REQUIRE(outcomes.size() == 1);
    CHECK(outcomes.front().ends_with(": " + std::string(pdu)));
  }
}

TEST_CASE("a request of unknown length ends by silence, cut at any place") {
  for (const auto* pdu : kEndedBySilence) {
    const auto frame = rtu_frame(17, hex(pdu));
    for (std::size_t cut = 1; cut < frame.size(); ++cut) {
      CAPTURE(pdu);
      CAPTURE(cut);
      RtuFramer framer(kRelaxed);
      framer.receive(ByteView(frame).first(cut), kStart);
      framer.receive(ByteView(frame).subspan(cut), kStart + 5ms);
      CHECK(all_outcomes(framer, kStart + 55ms - 1ns).empty());
      CHECK(framer.wake_at() == kStart + 55ms);
      CHECK(only_request(all_outcomes(framer, kStart + 55ms)) ==
            "request 17 at 7005000000: " + std::string(pdu));
      CHECK_FALSE(framer.wake_at().has_value());
    }
  }
}

TEST_CASE("requests sent back to back are all found, in order") {
  RtuFramer framer(kRelaxed);
  Bytes stream;
  std::vector<std::string> expected;
  for (const auto* pdu : kImplied) {
    const auto frame = rtu_frame(3, hex(pdu));
    stream.insert(stream.end(), frame.begin(), frame.end());
    expected.push_back("request 3 at 7000000000: " + std::string(pdu));
  }
  framer.receive(stream, kStart);
  CHECK(all_outcomes(framer, kStart) == expected);
}

TEST_CASE("rubbish before a frame is a fault of its own once a silence lies between") {
  for (const auto* pdu : kImplied) {
    for (const auto* rubbish : {"FF", "00 00 00", "11 03", "01 02 03 04 05 06 07 08 09 0A"}) {
      CAPTURE(pdu);
      CAPTURE(rubbish);
      RtuFramer framer(kRelaxed);
      framer.receive(hex(rubbish), kStart);
      framer.receive(rtu_frame(17, hex(pdu)), kStart + 50ms);
      const auto outcomes = all_outcomes(framer, kStart + 50ms);
      REQUIRE(outcomes.size() == 2);
      CHECK(outcomes[0].starts_with(hex(rubbish).size() < 4 ? "too_short" : "bad_crc"));
      CHECK(outcomes[0].ends_with(": " + std::string(rubbish)));
      CHECK(outcomes[1] == "request 17 at 7050000000: " + std::string(pdu));
    }
  }
}

TEST_CASE("a frame glued to rubbish is dropped with it, and the next one is clean") {
  for (const auto* pdu : kImplied) {
    CAPTURE(pdu);
    RtuFramer framer(kRelaxed);
    const auto frame = rtu_frame(17, hex(pdu));
    framer.receive(hex("55"), kStart);
    framer.receive(frame, kStart + 10ms);
    CHECK(all_outcomes(framer, kStart + 10ms).empty());
    const auto dropped = all_outcomes(framer, kStart + 60ms);
    REQUIRE(dropped.size() == 1);
    CHECK(dropped[0] == "bad_crc at 7060000000: 55 " + to_hex(frame));
    framer.receive(frame, kStart + 61ms);
    CHECK(only_request(all_outcomes(framer, kStart + 61ms)).starts_with("request 17"));
  }
}

TEST_CASE("rubbish behind a frame costs neither it nor the one after the silence") {
  for (const auto* pdu : kImplied) {
    CAPTURE(pdu);
    RtuFramer framer(kRelaxed);
    const auto frame = rtu_frame(17, hex(pdu));
    auto stream = frame;
    stream.insert(stream.end(), {0xDE, 0xAD});
    framer.receive(stream, kStart);
    framer.receive(frame, kStart + 80ms);
    const auto outcomes = all_outcomes(framer, kStart + 80ms);
    REQUIRE(outcomes.size() == 3);
    CHECK(outcomes[0] == "request 17 at 7000000000: " + std::string(pdu));
    CHECK(outcomes[1] == "too_short at 7050000000: DE AD");
    CHECK(outcomes[2] == "request 17 at 7080000000: " + std::string(pdu));
  }
}

TEST_CASE("a frame with a bad CRC is a fault after the silence, not a request") {
  for (const auto* pdu : kImplied) {
    CAPTURE(pdu);
    auto frame = rtu_frame(17, hex(pdu));
    frame.back() = static_cast<std::uint8_t>(frame.back() ^ 0x01u);
    RtuFramer framer(kRelaxed);
    framer.receive(frame, kStart);
    CHECK(framer.wake_at() == kStart + 50ms);
    CHECK(all_outcomes(framer, kStart + 49ms).empty());
    CHECK(only_request(all_outcomes(framer, kStart + 200ms)) == "bad_crc at 7050000000: " + to_hex(frame));
  }
}

TEST_CASE("a write inside a damaged write is never carried out") {
  // Unit 1 is asked to write registers whose data happen to be a good frame. The outer frame is damaged.
  const auto inner = rtu_frame(1, hex("06 00 01 03 E8"));
  auto pdu = hex("10 00 20 00 04 08");
  pdu.insert(pdu.end(), inner.begin(), inner.end());
  auto outer = rtu_frame(1, pdu);
  outer[2] = static_cast<std::uint8_t>(outer[2] ^ 0x40u);
  RtuFramer framer(kRelaxed);
  framer.receive(outer, kStart);
  CHECK(only_request(all_outcomes(framer, kStart + 50ms)).starts_with("bad_crc"));
}

TEST_CASE("more than 256 bytes without a silence are one fault, and no more are kept") {
  RtuFramer framer(kRelaxed);
  const Bytes noise(100, 0xAA);
  for (int i = 0; i < 50; ++i) framer.receive(noise, kStart + i * 1ms);
  CHECK(framer.wake_at() == kStart + 99ms);
  auto outcome = framer.poll(kStart + 99ms);
  REQUIRE(outcome.has_value());
  const auto* fault = std::get_if<RtuFault>(&*outcome);
  REQUIRE(fault != nullptr);
  CHECK(fault->kind == RtuFault::Kind::too_long);
  CHECK(fault->bytes.size() == 256);
  framer.receive(rtu_frame(17, hex("07")), kStart + 100ms);
  CHECK(only_request(all_outcomes(framer, kStart + 100ms)) == "request 17 at 7100000000: 07");
}

TEST_CASE("the longest frame, 256 bytes, is taken; one byte more is not") {
  Bytes pdu = hex("10 00 00 00 7B F6");
  pdu.resize(252, 0x5A);
  pdu[0] = 0x64;  // of unknown shape, so that silence alone ends it
  pdu.push_back(0x01);
  REQUIRE(pdu.size() == 253);
  RtuFramer framer(kRelaxed);
  framer.receive(rtu_frame(17, pdu), kStart);
  CHECK(only_request(all_outcomes(framer, kStart + 50ms)).starts_with("request 17"));
  auto longer = rtu_frame(17, pdu);
  longer.insert(longer.begin(), 0x11);
  framer.receive(longer, kStart + 1s);
  CHECK(only_request(all_outcomes(framer, kStart + 2s)).starts_with("too_long"));
}

TEST_CASE("a cut line leaves nothing behind that could be glued to the next frame") {
  RtuFramer framer(kRelaxed);
  framer.receive(hex("11 03 00"), kStart);
  framer.reset();
  CHECK_FALSE(framer.wake_at().has_value());
  framer.receive(rtu_frame(17, hex("03 00 6B 00 03")), kStart + 1ms);
  CHECK(only_request(all_outcomes(framer, kStart + 1ms)).starts_with("request 17"));
}

TEST_CASE("a request that nobody fetched yet keeps the line awake") {
  RtuFramer framer(kRelaxed);
  framer.receive(rtu_frame(17, hex("07")), kStart);
  REQUIRE(framer.wake_at().has_value());
  CHECK(*framer.wake_at() <= kStart);
  CHECK(all_outcomes(framer, kStart).size() == 1);
  framer.receive({}, kStart + 1ms);
  CHECK_FALSE(framer.wake_at().has_value());
}

TEST_CASE("the time bytes take on the line is no silence when the line says how long that is") {
  // 60 bytes at 1200 bit/s take 550 ms, told in two calls: nothing of that is silence.
  const Bytes pdu = [] {
    auto bytes = hex("10 00 00 00 19 32");
    bytes.resize(6 + 50, 0x11);
    return bytes;
  }();
  const auto frame = rtu_frame(17, pdu);
  auto timing = kRelaxed;
  timing.character = 9166us;
  RtuFramer framer(timing);
  framer.receive(ByteView(frame).first(20), kStart);
  framer.receive(ByteView(frame).subspan(20), kStart + 9167us * static_cast<int>(frame.size() - 20));
  CHECK(only_request(all_outcomes(framer, kStart + 1s)).starts_with("request 17"));
}

}  // namespace
}  // namespace emberline::modbus
