// MODBUS Messaging on TCP/IP Implementation Guide V1.0b (2006).
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/modbus/mbap_framer.hpp"
#include "sim/modbus/pdu.hpp"
#include "tests/sim/modbus/hex.hpp"
#include "tests/sim/modbus/memory.hpp"

namespace emberline::modbus {
namespace {

using test::hex;
using test::Memory;
using test::to_hex;

/// All answers to a stream that comes in segments of `segment` bytes.
std::vector<std::string> answers(ByteView stream, std::size_t segment, DataModel& memory) {
  MbapFramer framer;
  std::vector<std::string> frames;
  while (!stream.empty()) {
    const auto size = std::min(segment, stream.size());
    framer.receive(stream.first(size));
    stream = stream.subspan(size);
    while (const auto outcome = framer.poll()) {
      const auto* request = std::get_if<MbapRequest>(&*outcome);
      if (request == nullptr) continue;
      frames.push_back(to_hex(mbap_frame(request->transaction, request->unit, answer(request->pdu, memory))));
    }
  }
  return frames;
}

TEST_CASE("an answer carries the request's transaction, protocol id and unit, byte by byte or whole") {
  const struct {
    const char* source;
    const char* request;
    const char* answer;
  } rows[] = {
      {"V1.0b, 3.1.3 and the example of an ADU: read register 5; its answer derived",
       "15 01 00 00 00 06 FF 03 00 04 00 01", "15 01 00 00 00 05 FF 03 02 00 0A"},
      {"Application Protocol V1.1b3, 6.3, in an MBAP frame", "00 01 00 00 00 06 FF 03 00 6B 00 03",
       "00 01 00 00 00 09 FF 03 06 02 2B 00 00 00 64"},
      {"Application Protocol V1.1b3, section 7, in an MBAP frame", "00 01 00 00 00 06 FF 01 04 A1 00 01",
       "00 01 00 00 00 03 FF 81 02"},
  };
  Memory memory(200);
  auto& registers = memory.words[static_cast<std::size_t>(Table::holding_registers)];
  registers[4] = 10;
  registers[107] = 555;
  registers[109] = 100;
  Bytes all;
  std::vector<std::string> expected;
  for (const auto& row : rows) {
    CAPTURE(row.source);
    const auto request = hex(row.request);
    for (std::size_t segment = 1; segment <= request.size(); ++segment) {
      CAPTURE(segment);
      CHECK(answers(request, segment, memory) == std::vector<std::string>{row.answer});
    }
    all.insert(all.end(), request.begin(), request.end());
    expected.emplace_back(row.answer);
  }
  // The guide advises one ADU a segment, but TCP is a stream and keeps no promise about segments.
  for (std::size_t segment = 1; segment <= all.size(); ++segment)
    CHECK(answers(all, segment, memory) == expected);
}

TEST_CASE("an indication with another protocol id is discarded in silence") {
  // V1.0b, checking of the MBAP header by the server: a protocol id other than 0 is discarded.
  Memory memory(200);
  CHECK(answers(hex("00 01 00 01 00 06 FF 06 00 01 00 03"), 12, memory).empty());
  CHECK(answers(hex("00 01 80 00 00 06 FF 06 00 01 00 03"), 1, memory).empty());
  CHECK(memory.changes == 0);
}

TEST_CASE("the length counts the unit id and a PDU of up to 253 bytes") {
  // V1.0b, 3.1.3 and Application Protocol V1.1b3, 4.1: an ADU has at most 260 bytes, so the length is at most
  // 254.
  const Bytes longest(253, 0x64);
  CHECK(mbap_frame(0, 0, longest).size() == 260);
  CHECK(to_hex(ByteView(mbap_frame(0x1501, 0xFF, longest)).first(7)) == "15 01 00 00 00 FE FF");
  MbapFramer framer;
  framer.receive(hex("00 01 00 00 00 FF FF"));
  CHECK(framer.lost());
}

}  // namespace
}  // namespace emberline::modbus
