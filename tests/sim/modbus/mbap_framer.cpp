#include "sim/modbus/mbap_framer.hpp"

#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/sim/modbus/hex.hpp"
#include "tests/sim/modbus/outcomes.hpp"

namespace emberline::modbus {
namespace {

using test::all_outcomes;
using test::hex;

const char* const kRequests[] = {
    "01 00 13 00 13",
    "03 00 6B 00 03",
    "05 00 AC FF 00",
    "06 00 01 00 03",
    "07",
    "0F 00 13 00 0A 02 CD 01",
    "10 00 01 00 02 04 00 0A 01 02",
    "18 04 DE",
    "00",
    "FF 01 02",
};

/// What `stream` gives when cut into segments of `segment` bytes.
std::vector<std::string> cut(ByteView stream, std::size_t segment) {
  MbapFramer framer;
  std::vector<std::string> outcomes;
  for (std::size_t at = 0; at < stream.size(); at += segment) {
    framer.receive(stream.subspan(at, std::min(segment, stream.size() - at)));
    for (auto& outcome : all_outcomes(framer)) outcomes.push_back(std::move(outcome));
  }
  return outcomes;
}

TEST_CASE("requests are the same however the stream is cut into segments") {
  Bytes stream;
  std::vector<std::string> expected;
  std::uint16_t transaction = 0x1501;
  for (const auto* pdu : kRequests) {
    const auto frame = mbap_frame(transaction, 0xFF, hex(pdu));
    stream.insert(stream.end(), frame.begin(), frame.end());
    expected.push_back("request " + std::to_string(transaction++) + " unit 255: " + pdu);
  }
  for (std::size_t segment = 1; segment <= stream.size(); ++segment) {
    CAPTURE(segment);
    CHECK(cut(stream, segment) == expected);
  }
}

TEST_CASE("an ADU of another protocol is passed over and the next request is answered") {
  auto stream = hex("00 01 00 01 00 06 01 06 00 01 00 03");
  const auto good = hex("00 02 00 00 00 06 01 03 00 00 00 01");
  stream.insert(stream.end(), good.begin(), good.end());
  const std::vector<std::string> expected = {"wrong_protocol", "request 2 unit 1: 03 00 00 00 01"};
  for (std::size_t segment = 1; segment <= stream.size(); ++segment) CHECK(cut(stream, segment) == expected);
}

TEST_CASE("a length that cannot be loses the stream for good") {
  const struct {
    const char* why;
    const char* adu;
  } rows[] = {
      {"length 0", "00 01 00 00 00 00"},
      {"length 1: no function code", "00 01 00 00 00 01 01"},
      {"length 255: a PDU of 254 bytes", "00 01 00 00 00 FF 01"},
      {"length FFFF", "00 01 00 00 FF FF 01"},
      {"bad length and wrong protocol", "00 01 00 07 00 00 01"},
      {"03 with a byte too few", "00 01 00 00 00 05 01 03 00 00 00"},
      {"03 with a byte too many", "00 01 00 00 00 07 01 03 00 00 00 01 00"},
      {"06 with two bytes too few", "00 01 00 00 00 04 01 06 00 01"},
      {"10 without its byte count", "00 01 00 00 00 03 01 10 00"},
      {"10 whose byte count and quantity agree on another length",
       "00 01 00 00 00 09 01 10 00 01 00 02 04 00 0A"},
      {"0F whose byte count and quantity agree on another length",
       "00 01 00 00 00 08 01 0F 00 13 00 0A 02 CD"},
      {"16 with a mask too few", "00 01 00 00 00 06 01 16 00 04 00 F2"},
      {"17 without its byte count", "00 01 00 00 00 0A 01 17 00 03 00 06 00 0E 00 03"},
      {"17 whose byte count and quantity agree on another length",
       "00 01 00 00 00 0C 01 17 00 03 00 06 00 0E 00 01 02 00"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.why);
    MbapFramer framer;
    framer.receive(hex(row.adu));
    CHECK(framer.lost());
    framer.receive(hex("00 02 00 00 00 06 01 03 00 00 00 01"));
    CHECK(all_outcomes(framer) == std::vector<std::string>{"bad_length"});
  }
}

TEST_CASE("what is no request is not shown as it came, or shown without end") {
  const auto foreign = hex("00 01 00 01 00 06 01 06 00 01 00 03");
  Bytes stream = foreign;
  const auto bad = hex("00 02 00 00 00 FF 01 06");
  stream.insert(stream.end(), bad.begin(), bad.end());
  stream.resize(stream.size() + 400, 0xEE);
  const ByteView behind = ByteView(stream).subspan(foreign.size());
  for (std::size_t segment = 1; segment <= stream.size(); ++segment) {
    CAPTURE(segment);
    MbapFramer framer;
    std::vector<Bytes> shown;
    for (std::size_t at = 0; at < stream.size(); at += segment) {
      framer.receive(ByteView(stream).subspan(at, std::min(segment, stream.size() - at)));
      while (const auto outcome = framer.poll()) shown.push_back(std::get<modbus::MbapFault>(*outcome).bytes);
    }
    REQUIRE(shown.size() == 2);
    CHECK(shown[0] == foreign);
    // From where it began to the end of the piece that told it, 260 bytes at most.
    const std::size_t told = foreign.size() + 6;
    const std::size_t end = std::min((told + segment - 1) / segment * segment, stream.size());
    const auto expected = behind.first(std::min<std::size_t>(end - foreign.size(), 260));
    CHECK(shown[1] == Bytes(expected.begin(), expected.end()));
  }
}

TEST_CASE("where byte count or quantity agree with the length, the request comes through to be refused") {
  const struct {
    const char* why;
    const char* pdu;
  } rows[] = {
      {"byte count 3 for 2 registers, 3 bytes there", "10 00 00 00 02 03 00 01 00"},
      {"byte count 5 for 2 registers, 4 bytes there", "10 00 00 00 02 05 00 01 00 02"},
      {"byte count 1 for 10 coils, 1 byte there", "0F 00 00 00 0A 01 CD"},
      {"quantity 0, no bytes", "10 00 00 00 00 00"},
      {"17: byte count 2 for 2 registers, 2 bytes there", "17 00 00 00 01 00 00 00 02 02 00 01"},
      {"17: byte count 2 for 2 registers, 4 bytes there", "17 00 00 00 01 00 00 00 02 02 00 01 00 02"},
      {"a function without memory, of any length", "11 00 00"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.why);
    MbapFramer framer;
    framer.receive(mbap_frame(1, 1, hex(row.pdu)));
    CHECK(all_outcomes(framer) == std::vector<std::string>{std::string("request 1 unit 1: ") + row.pdu});
    CHECK_FALSE(framer.lost());
  }
}

TEST_CASE("the longest ADU, 260 bytes, comes through") {
  Bytes pdu = hex("64");
  pdu.resize(253, 0x33);
  const auto frame = mbap_frame(9, 2, pdu);
  REQUIRE(frame.size() == 260);
  MbapFramer framer;
  framer.receive(frame);
  const auto outcome = framer.poll();
  REQUIRE(outcome.has_value());
  REQUIRE(std::holds_alternative<MbapRequest>(*outcome));
  CHECK(std::get<MbapRequest>(*outcome).pdu == pdu);
}

TEST_CASE("half a request says nothing") {
  const auto frame = mbap_frame(9, 2, hex("03 00 00 00 01"));
  for (std::size_t size = 0; size < frame.size(); ++size) {
    MbapFramer framer;
    framer.receive(ByteView(frame).first(size));
    CHECK(all_outcomes(framer).empty());
    CHECK_FALSE(framer.lost());
  }
}

}  // namespace
}  // namespace emberline::modbus
