// Framing as MODBUS over Serial Line V1.02, 2.5.1.1 has it: t1.5 inside a frame, t3.5 between frames.
#include <chrono>
#include <string>

#include <doctest/doctest.h>

#include "sim/base/serial_format.hpp"
#include "sim/modbus/crc.hpp"
#include "sim/modbus/rtu_framer.hpp"
#include "tests/sim/modbus/hex.hpp"
#include "tests/sim/modbus/outcomes.hpp"

namespace emberline::modbus {
namespace {

using namespace std::chrono_literals;
using test::all_outcomes;
using test::hex;
using test::to_hex;

/// A line at work: sends bytes one by one, each at the end of its character.
struct Wire {
  explicit Wire(int baud)
      : format{.baud = baud},
        character(character_time(format)),
        framer({.inside_frame_max = t1_5(format),
                .between_frames_min = t3_5(format),
                .strict = true,
                .character = character}) {}

  void send(ByteView bytes) {
    for (const auto byte : bytes) framer.receive(ByteView(&byte, 1), now += character);
  }
  void silence(Duration length) { now += length; }

  SerialFormat format;
  Duration character;
  RtuFramer framer;
  SimTime now{};
};

constexpr int kSpeeds[] = {1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200};
const Bytes kFrame = rtu_frame(17, hex("03 00 6B 00 03"));

TEST_CASE("strict: a frame is there after t3.5 of silence and not a nanosecond earlier") {
  for (const int baud : kSpeeds) {
    CAPTURE(baud);
    Wire wire(baud);
    wire.send(kFrame);
    const auto end = wire.now;
    CHECK(wire.framer.wake_at() == end + t3_5(wire.format));
    CHECK(all_outcomes(wire.framer, end + t3_5(wire.format) - 1ns).empty());
    const auto outcomes = all_outcomes(wire.framer, end + t3_5(wire.format));
    REQUIRE(outcomes.size() == 1);
    CHECK(outcomes[0] ==
          "request 17 at " + std::to_string(end.time_since_epoch().count()) + ": 03 00 6B 00 03");
  }
}

TEST_CASE("strict: a gap of t1.5 inside a frame is allowed, a longer one spoils the frame") {
  for (const int baud : kSpeeds) {
    for (std::size_t cut = 1; cut < kFrame.size(); ++cut) {
      CAPTURE(baud);
      CAPTURE(cut);
      for (const auto& [extra, spoilt] : {std::pair{0ns, false}, std::pair{1ns, true}}) {
        Wire wire(baud);
        wire.send(ByteView(kFrame).first(cut));
        wire.silence(t1_5(wire.format) + extra);
        wire.send(ByteView(kFrame).subspan(cut));
        const auto outcomes = all_outcomes(wire.framer, wire.now + t3_5(wire.format));
        REQUIRE(outcomes.size() == 1);
        CHECK(outcomes[0].starts_with(spoilt ? "gap_inside" : "request 17"));
      }
    }
  }
}

TEST_CASE("strict: a gap spoils the frame behind the one it is in, or outlives a cable that was pulled") {
  for (const bool pulled : {false, true}) {
    CAPTURE(pulled);
    Wire wire(9600);
    wire.send(ByteView(kFrame).first(4));
    wire.silence(t1_5(wire.format) + 1ns);
    wire.send(ByteView(kFrame).subspan(4));
    if (pulled)
      wire.framer.reset();
    else
      CHECK(all_outcomes(wire.framer, wire.now + t3_5(wire.format)).size() == 1);
    wire.silence(t3_5(wire.format));
    wire.send(kFrame);
    const auto outcomes = all_outcomes(wire.framer, wire.now + t3_5(wire.format));
    REQUIRE(outcomes.size() == 1);
    CHECK(outcomes[0].starts_with("request 17"));
  }
}

TEST_CASE("strict: a silence of t3.5 inside a frame makes two pieces of rubbish of it") {
  Wire wire(19200);
  wire.send(ByteView(kFrame).first(3));
  wire.silence(t3_5(wire.format));
  wire.send(ByteView(kFrame).subspan(3));
  const auto outcomes = all_outcomes(wire.framer, wire.now + t3_5(wire.format));
  REQUIRE(outcomes.size() == 2);
  CHECK(outcomes[0].starts_with("too_short"));
  CHECK(outcomes[0].ends_with(": 11 03 00"));
  CHECK(outcomes[1].starts_with("bad_crc"));
}

TEST_CASE("strict: frames need t3.5 between them, even when nobody polled in time") {
  Wire wire(9600);
  wire.send(kFrame);
  wire.silence(t3_5(wire.format));
  wire.send(kFrame);
  CHECK(all_outcomes(wire.framer, wire.now + t3_5(wire.format)).size() == 2);

  wire.silence(t3_5(wire.format));
  wire.send(kFrame);  // back to back: one frame of 16 bytes, whose CRC is wrong
  wire.send(kFrame);
  const auto glued = all_outcomes(wire.framer, wire.now + t3_5(wire.format));
  REQUIRE(glued.size() == 1);
  CHECK(glued[0].starts_with("bad_crc"));
}

TEST_CASE("strict: rubbish before and behind a frame, with and without a silence between") {
  const auto noise = hex("55 AA 55 AA 55");
  for (const bool apart : {true, false}) {
    CAPTURE(apart);
    Wire wire(19200);
    wire.send(noise);
    if (apart) wire.silence(t3_5(wire.format));
    wire.send(kFrame);
    if (apart) wire.silence(t3_5(wire.format));
    wire.send(noise);
    const auto outcomes = all_outcomes(wire.framer, wire.now + 1s);
    if (apart) {
      REQUIRE(outcomes.size() == 3);
      CHECK(outcomes[1].starts_with("request 17"));
    } else {
      REQUIRE(outcomes.size() == 1);
      CHECK(outcomes[0].starts_with("bad_crc"));
    }
    wire.silence(1s);
    wire.send(kFrame);
    CHECK(all_outcomes(wire.framer, wire.now + 1s).size() == 1);
  }
}

TEST_CASE("strict: a frame told in one call at its end needs no time of its own to be clean") {
  Wire wire(19200);
  wire.framer.receive(hex("FF"), SimTime{} + 1s);
  const auto end = SimTime{} + 1s + 1ms + wire.character * 8;  // began 1 ms, less than t3.5, behind the FF
  wire.framer.receive(kFrame, end);
  const auto outcomes = all_outcomes(wire.framer, end + 10ms);
  REQUIRE(outcomes.size() == 1);
  CHECK(outcomes[0].starts_with("gap_inside"));
  CHECK(outcomes[0].ends_with(": FF " + to_hex(kFrame)));
}

}  // namespace
}  // namespace emberline::modbus
