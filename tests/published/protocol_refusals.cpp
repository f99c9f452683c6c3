// Limits and the order of refusals: MODBUS Application Protocol Specification V1.1b3 (2012), the limits of
// section 6 and the state diagrams of figures 11 to 16, 21 and 22. The expected answers follow from the
// figures; the standard does not print them as frames. The device has 100 addresses, 0 to 99, as in
// section 7.
#include <string>

#include <doctest/doctest.h>

#include "sim/modbus/pdu.hpp"
#include "tests/sim/modbus/hex.hpp"
#include "tests/sim/modbus/memory.hpp"

namespace emberline::modbus {
namespace {

using test::hex;
using test::Memory;
using test::to_hex;

TEST_CASE("the first test that fails decides the exception, in the order of the state diagrams") {
  const struct {
    const char* source;
    const char* request;
    const char* answer;
  } rows[] = {
      {"figure 13: quantity before address", "03 00 64 00 00", "83 03"},
      {"figure 13: address", "03 00 64 00 01", "83 02"},
      {"figure 13: quantity 126 is above 125", "03 00 00 00 7E", "83 03"},
      {"figure 13: 125 is a legal quantity, too long for this device", "03 00 00 00 7D", "83 02"},
      {"figure 13: no wrapping to address 0", "03 FF FF 00 02", "83 02"},
      {"figure 11: quantity 2001 is above 2000", "01 00 00 07 D1", "81 03"},
      {"figure 12: quantity 2001 is above 2000", "02 00 00 07 D1", "82 03"},
      {"figure 14: quantity 126 is above 125", "04 00 00 00 7E", "84 03"},
      {"figure 14: address", "04 00 64 00 01", "84 02"},
      {"figure 15: value before address", "05 00 64 12 34", "85 03"},
      {"figure 15: address", "05 00 64 FF 00", "85 02"},
      {"figure 16: address", "06 00 64 12 34", "86 02"},
      {"figure 21: byte count 1 for 10 coils", "0F 00 00 00 0A 01 CD", "8F 03"},
      {"figure 21: byte count before address", "0F 00 64 00 0A 01 CD", "8F 03"},
      {"figure 21: address", "0F 00 63 00 02 01 03", "8F 02"},
      {"figure 22: second register outside", "10 00 63 00 02 04 00 01 00 02", "90 02"},
      {"figure 22: byte count 3 for 2 registers", "10 00 00 00 02 03 00 01 00", "90 03"},
      {"figure 22: quantity 0", "10 00 64 00 00 00", "90 03"},
      {"section 7: 100 registers, start 96, quantity 5", "03 00 60 00 05", "83 02"},
      {"section 7: 100 registers, start 96, quantity 4", "03 00 60 00 04", "03 08 00 00 00 00 00 00 00 00"},
      {"functions of files and queues are not supported", "18 04 DE", "98 01"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.source);
    CAPTURE(row.request);
    Memory memory(100);
    CHECK(to_hex(answer(hex(row.request), memory)) == row.answer);
    CHECK(memory.changes == 0);
  }
}

TEST_CASE("a block of the largest legal size is answered, one more is refused") {
  Memory memory(4000);
  const struct {
    const char* source;
    const char* largest;
    std::size_t answer_size;  // byte count and two bytes before the data
    const char* one_more;
  } reads[] = {
      {"V1.1b3, 6.1: 1 to 2000 coils", "01 00 00 07 D0", 252, "01 00 00 07 D1"},
      {"V1.1b3, 6.2: 1 to 2000 inputs", "02 00 00 07 D0", 252, "02 00 00 07 D1"},
      {"V1.1b3, 6.3: 1 to 125 registers", "03 00 00 00 7D", 252, "03 00 00 00 7E"},
      {"V1.1b3, 6.4: 1 to 125 registers", "04 00 00 00 7D", 252, "04 00 00 00 7E"},
  };
  for (const auto& row : reads) {
    CAPTURE(row.source);
    const auto reply = answer(hex(row.largest), memory);
    CHECK_FALSE(refusal_of(reply).has_value());
    CHECK(reply.size() == row.answer_size);
    CHECK(refusal_of(answer(hex(row.one_more), memory)) == Refusal::illegal_data_value);
  }

  auto coils = hex("0F 00 00 07 B0 F6");  // V1.1b3, 6.11: 1 to 1968 coils
  coils.resize(252);
  CHECK(to_hex(answer(coils, memory)) == "0F 00 00 07 B0");
  auto one_coil_more = hex("0F 00 00 07 B1 F7");
  one_coil_more.resize(253);
  CHECK(to_hex(answer(one_coil_more, memory)) == "8F 03");

  auto registers = hex("10 00 00 00 7B F6");  // V1.1b3, 6.12: 1 to 123 registers
  registers.resize(252);
  CHECK(to_hex(answer(registers, memory)) == "10 00 00 00 7B");
  auto one_register_more = hex("10 00 00 00 7C F8");
  one_register_more.resize(254);
  CHECK(to_hex(answer(one_register_more, memory)) == "90 03");
}

TEST_CASE("a single coil takes FF00 and 0000 and nothing else") {
  // V1.1b3, 6.5: all other values are illegal and will not affect the output.
  Memory memory(10);
  for (unsigned value = 0; value <= 0xFFFF; ++value) {
    const Bytes pdu = {0x05, 0x00, 0x01, static_cast<std::uint8_t>(value >> 8u),
                       static_cast<std::uint8_t>(value & 0xFFu)};
    const auto refusal = refusal_of(answer(pdu, memory));
    if (value == 0xFF00 || value == 0x0000) {
      CHECK_FALSE(refusal.has_value());
    } else if (refusal != Refusal::illegal_data_value) {
      FAIL_CHECK("taken: " << value);
    }
  }
  CHECK(memory.changes == 2);
}

}  // namespace
}  // namespace emberline::modbus
