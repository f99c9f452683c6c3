// Our slaves beside real ones on one two-wire bus, where everybody hears everything (MODBUS over Serial Line
// V1.02, 3.3.1). The frames are laid out as in MODBUS Application Protocol V1.1b3, section 6; slave 9 is not
// ours.
#include <chrono>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/modbus/crc.hpp"
#include "sim/modbus/rtu_framer.hpp"
#include "tests/sim/modbus/hex.hpp"
#include "tests/sim/modbus/outcomes.hpp"

namespace emberline::modbus {
namespace {

using namespace std::chrono_literals;
using test::all_outcomes;
using test::hex;

constexpr RtuFramer::Timing kRelaxed{.inside_frame_max = 860us, .between_frames_min = 50ms};
constexpr RtuFramer::Timing kStrict{
    .inside_frame_max = 860us, .between_frames_min = 2ms, .strict = true, .character = 573us};
const SimTime kStart = SimTime{} + 7s;
constexpr std::uint8_t kTheirs = 9;
constexpr std::uint8_t kOurs = 17;

RtuFramer framer_of(const RtuFramer::Timing& timing) {
  RtuFramer framer(timing);
  RtuFramer::Ids own;
  own.set(kOurs);
  framer.share_with_others(own);
  return framer;
}

Bytes operator+(Bytes first, const Bytes& second) {
  first.insert(first.end(), second.begin(), second.end());
  return first;
}

/// The first words: "request 17", "foreign", "bad_crc".
std::vector<std::string> kinds(const std::vector<std::string>& outcomes) {
  std::vector<std::string> found;
  found.reserve(outcomes.size());
  for (const auto& outcome : outcomes) found.push_back(outcome.substr(0, outcome.find(" at ")));
  return found;
}

struct Exchange {
  const char* request;
  const char* answer;
};
const Exchange kExchanges[] = {
    {"01 00 13 00 13", "01 03 CD 6B 05"},                    // 6.1
    {"02 00 C4 00 16", "02 03 AC DB 35"},                    // 6.2
    {"03 00 6B 00 03", "03 06 02 2B 00 00 00 64"},           // 6.3
    {"03 00 6B 00 03", "83 02"},                             // section 7
    {"04 00 08 00 01", "04 02 00 0A"},                       // 6.4
    {"05 00 AC FF 00", "05 00 AC FF 00"},                    // 6.5
    {"06 00 01 00 03", "06 00 01 00 03"},                    // 6.6
    {"07", "07 6D"},                                         // 6.7
    {"0B", "0B FF FF 01 08"},                                // 6.9
    {"0F 00 13 00 0A 02 CD 01", "0F 00 13 00 0A"},           // 6.11
    {"10 00 01 00 02 04 00 0A 01 02", "10 00 01 00 02"},     // 6.12
    {"10 00 01 00 02 04 00 0A 01 02", "90 03"},              // section 7
    {"11", "11 03 2A FF 07"},                                // 6.13, layout free
    {"16 00 04 00 F2 00 25", "16 00 04 00 F2 00 25"},        // 6.16
    {"2B 0E 01 00", "2B 0E 01 01 00 00 01 00 03 41 42 43"},  // 6.21
    {"41 01 02", "41 07 07 07"},                             // user defined: only silence ends them
};

}  // namespace

TEST_CASE("another slave's answer is no request, whatever the function, and costs ours nothing") {
  const Bytes ours = rtu_frame(kOurs, hex("03 00 30 00 01"));
  for (const auto& timing : {kRelaxed, kStrict}) {
    CAPTURE(timing.strict);
    for (const auto& exchange : kExchanges) {
      INFO(exchange.request);
      auto framer = framer_of(timing);
      SimTime at = kStart;
      for (const auto& frame :
           {rtu_frame(kTheirs, hex(exchange.request)), rtu_frame(kTheirs, hex(exchange.answer)), ours, ours})
        framer.receive(frame, at += 300ms);
      CHECK(kinds(all_outcomes(framer, at + 300ms)) ==
            std::vector<std::string>{"request 9", "foreign", "request 17", "request 17"});
    }
  }
}

TEST_CASE("another slave's answer that comes byte by byte is no request either") {
  const Bytes ours = rtu_frame(kOurs, hex("03 00 30 00 01"));
  for (const auto& exchange : kExchanges) {
    INFO(exchange.request);
    auto framer = framer_of(kRelaxed);
    SimTime at = kStart;
    for (const auto& frame :
         {rtu_frame(kTheirs, hex(exchange.request)), rtu_frame(kTheirs, hex(exchange.answer)), ours}) {
      at += 300ms;
      for (const auto byte : frame) framer.receive(Bytes{byte}, at += 1ms);
    }
    CHECK(kinds(all_outcomes(framer, at + 300ms)) ==
          std::vector<std::string>{"request 9", "foreign", "request 17"});
  }
}

TEST_CASE("a request for us that follows another's answer without a gap is taken up at once") {
  const Bytes ours = rtu_frame(kOurs, hex("03 00 30 00 01"));
  for (const auto& exchange : kExchanges) {
    if (exchange.request[0] == '4') continue;  // the end of the user defined one is silence
    INFO(exchange.request);
    auto framer = framer_of(kRelaxed);
    framer.receive(
        rtu_frame(kTheirs, hex(exchange.request)) + rtu_frame(kTheirs, hex(exchange.answer)) + ours, kStart);
    CHECK(kinds(all_outcomes(framer, kStart)) ==
          std::vector<std::string>{"request 9", "foreign", "request 17"});
  }
}

TEST_CASE("a master that asks a dead slave again and again is heard each time") {
  auto framer = framer_of(kRelaxed);
  const Bytes read = rtu_frame(kTheirs, hex("03 00 6B 00 03"));
  for (int i = 0; i < 3; ++i) framer.receive(read, kStart + i * 1s);
  CHECK(kinds(all_outcomes(framer, kStart + 5s)) ==
        std::vector<std::string>{"request 9", "request 9", "request 9"});
}

// The answer to a single write repeats its request (6.6), so only who was asked last tells the two apart.
TEST_CASE("a write to us is no answer of the slave that was asked before and kept silent") {
  for (const auto& timing : {kRelaxed, kStrict}) {
    CAPTURE(timing.strict);
    auto framer = framer_of(timing);
    framer.receive(rtu_frame(kTheirs, hex("06 00 01 00 03")), kStart);
    framer.receive(rtu_frame(kOurs, hex("06 00 01 00 03")), kStart + 1s);
    CHECK(kinds(all_outcomes(framer, kStart + 2s)) == std::vector<std::string>{"request 9", "request 17"});
  }
}

TEST_CASE("another slave answers once: the same write after its answer is a request") {
  for (const auto& timing : {kRelaxed, kStrict}) {
    CAPTURE(timing.strict);
    auto framer = framer_of(timing);
    const Bytes write = rtu_frame(kTheirs, hex("06 00 01 00 03"));
    for (int i = 0; i < 4; ++i) framer.receive(write, kStart + i * 1s);
    CHECK(kinds(all_outcomes(framer, kStart + 5s)) ==
          std::vector<std::string>{"request 9", "foreign", "request 9", "foreign"});
  }
}

TEST_CASE("a write to us that the master repeats is not taken for an answer") {
  for (const auto& timing : {kRelaxed, kStrict}) {
    CAPTURE(timing.strict);
    auto framer = framer_of(timing);
    const Bytes write = rtu_frame(kOurs, hex("06 00 01 00 03"));
    for (int i = 0; i < 2; ++i) framer.receive(write, kStart + i * 1s);
    CHECK(kinds(all_outcomes(framer, kStart + 2s)) == std::vector<std::string>{"request 17", "request 17"});
  }
}

TEST_CASE("only the slave that was asked answers: other frames with bad lengths stay faults") {
  const Bytes answer = rtu_frame(kTheirs, hex("03 06 02 2B 00 00 00 64"));
  SUBCASE("nobody asked it") {
    auto framer = framer_of(kRelaxed);
    framer.receive(answer, kStart);
    CHECK(kinds(all_outcomes(framer, kStart + 1s)) == std::vector<std::string>{"request 9"});
  }
  SUBCASE("our slave was asked last") {
    auto framer = framer_of(kRelaxed);
    framer.receive(rtu_frame(kTheirs, hex("03 00 6B 00 03")), kStart);
    framer.receive(rtu_frame(kOurs, hex("03 00 6B 00 03")), kStart + 1s);
    framer.receive(answer, kStart + 2s);
    CHECK(kinds(all_outcomes(framer, kStart + 3s)) ==
          std::vector<std::string>{"request 9", "request 17", "request 9"});
  }
  SUBCASE("its CRC is bad") {
    auto framer = framer_of(kRelaxed);
    framer.receive(rtu_frame(kTheirs, hex("03 00 6B 00 03")), kStart);
    Bytes bad = answer;
    bad[3] ^= 0x10;
    framer.receive(bad, kStart + 1s);
    CHECK(kinds(all_outcomes(framer, kStart + 2s)) == std::vector<std::string>{"request 9", "bad_crc"});
  }
  SUBCASE("the line was cut between request and answer") {
    auto framer = framer_of(kRelaxed);
    framer.receive(rtu_frame(kTheirs, hex("10 00 01 00 02 04 00 0A 01 02")), kStart);
    framer.reset();
    framer.receive(rtu_frame(kTheirs, hex("10 00 01 00 02")), kStart + 1s);
    CHECK(kinds(all_outcomes(framer, kStart + 2s)) == std::vector<std::string>{"request 9", "request 9"});
  }
}

TEST_CASE("where all slaves are ours, nothing is taken for another's answer") {
  RtuFramer framer(kRelaxed);
  const Bytes write = rtu_frame(kTheirs, hex("06 00 01 00 03"));
  framer.receive(write + write, kStart);
  CHECK(kinds(all_outcomes(framer, kStart)) == std::vector<std::string>{"request 9", "request 9"});
}

TEST_CASE("nobody answers a broadcast, so what follows it is a request") {
  auto framer = framer_of(kRelaxed);
  const Bytes write = rtu_frame(0, hex("06 00 01 00 03"));
  framer.receive(write + write, kStart);
  CHECK(kinds(all_outcomes(framer, kStart)) == std::vector<std::string>{"request 0", "request 0"});
}

}  // namespace emberline::modbus
