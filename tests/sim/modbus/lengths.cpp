#include <doctest/doctest.h>

#include "sim/modbus/device_functions.hpp"
#include "sim/modbus/pdu.hpp"
#include "tests/sim/modbus/hex.hpp"
#include "tests/sim/modbus/memory.hpp"

namespace emberline::modbus {
namespace {

using test::hex;
using test::Memory;

/// What a slave with everything there answers to a sound request of each function.
Bytes answer_to(ByteView request, Memory& memory, Diagnostics& port) {
  static const Identity identity = [] {
    auto all = basic_identity("Emberline", "virtual-unit", "1.0");
    all.objects[kVendorUrl] = std::string(200, 'u');
    all.objects[kFirstPrivateObject] = "oven 3";
    return all;
  }();
  if (!is_about_device(request[0])) return answer(request, memory);
  return answer_about_device(request, {identity, 17, 0x6D, true}, &port).value();
}

TEST_CASE("the length of an answer is told by its first bytes, never by a part of them wrongly") {
  const char* const requests[] = {"01 00 00 00 01",
                                  "01 00 00 07 D0",
                                  "02 00 05 00 16",
                                  "03 00 00 00 7D",
                                  "04 00 08 00 01",
                                  "05 00 01 FF 00",
                                  "06 00 01 00 03",
                                  "07",
                                  "08 00 0B 00 00",
                                  "08 00 01 00 00",
                                  "0B",
                                  "0C",
                                  "11",
                                  "0F 00 13 00 0A 02 CD 01",
                                  "10 00 01 00 02 04 00 0A 01 02",
                                  "16 00 04 00 F2 00 25",
                                  "17 00 03 00 06 00 0E 00 03 06 00 FF 00 FF 00 FF",
                                  "2B 0E 01 00",
                                  "2B 0E 02 00",
                                  "2B 0E 03 00",
                                  "2B 0E 04 80",
                                  "03 FF FF 00 02",
                                  "05 00 01 12 34",
                                  "2B 0E 05 00",
                                  "2B 0D 00",
                                  "08 00 05 00 00",
                                  "41",
                                  "16 FF FF 00 00 00 00"};
  Memory memory(3000);
  Diagnostics port;
  for (int i = 0; i < 5; ++i) port.heard(Heard::comm_error);  // so that the event log is not empty
  for (const auto* request : requests) {
    CAPTURE(request);
    const auto reply = answer_to(hex(request), memory, port);
    REQUIRE(implied_answer_length(reply) == reply.size());
    for (std::size_t size = 0; size < reply.size(); ++size) {
      CAPTURE(size);
      const auto length = implied_answer_length(ByteView(reply).first(size));
      CHECK(length.value_or(reply.size()) == reply.size());
    }
  }
}

TEST_CASE("the length of answers to functions of the standard that we do not have is told as well") {
  // MODBUS Application Protocol V1.1b3, 6.14, 6.15, 6.18: the examples.
  for (const auto* reply : {"14 0C 05 06 0D FE 00 20 05 06 33 CD 00 40",
                            "15 0D 06 00 04 00 07 00 03 06 AF 04 BE 10 0D", "18 00 06 00 02 01 B8 12 84"})
    CHECK(implied_answer_length(hex(reply)) == hex(reply).size());
}

TEST_CASE("a length that nothing tells is not made up") {
  for (const auto* reply :
       {"", "00", "41 01", "64", "08", "08 00", "08 00 00", "08 00 00 A5 37", "2B 0D 00 00"})
    CHECK_FALSE(implied_answer_length(hex(reply)).has_value());
}

}  // namespace
}  // namespace emberline::modbus
