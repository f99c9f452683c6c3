// The functions that act on a device's memory, rule by rule: what one request gets from a plain memory, from
// a whole unit over a serial line and from the same unit over TCP. MODBUS Application Protocol Specification
// V1.1b3 (2012), MODBUS over Serial Line V1.02 (2006). Where figure 9 (function, address, value) and the
// figure of a function differ, the figure of the function holds. The expected answers follow from clause or
// figure; the standard prints few of them as frames. The device is that of section 7: addresses 0 to 99.
#include <chrono>
#include <string>

#include <doctest/doctest.h>

#include "sim/modbus/pdu.hpp"
#include "tests/published/conformance_bench.hpp"
#include "tests/sim/modbus/memory.hpp"

namespace emberline::test {
namespace {

struct Row {
  const char* rule;
  const char* clause;
  const char* request;
  const char* answer;  ///< of a memory full of zeros
};

const Row kRefusals[] = {
    {"quantity before address", "figure 13", "03 00 64 00 00", "83 03"},
    {"address", "figure 13", "03 00 64 00 01", "83 02"},
    {"quantity 0", "6.3", "03 00 00 00 00", "83 03"},
    {"quantity 126 is above 125", "6.3", "03 00 00 00 7E", "83 03"},
    {"125 is a legal quantity, too long for this device", "figure 13", "03 00 00 00 7D", "83 02"},
    {"no wrapping to address 0", "figure 13", "03 FF FF 00 02", "83 02"},
    {"start 96, quantity 5", "section 7", "03 00 60 00 05", "83 02"},
    {"quantity 0", "6.1", "01 00 00 00 00", "81 03"},
    {"quantity 2001 is above 2000", "6.1", "01 00 00 07 D1", "81 03"},
    {"quantity before address", "figure 11", "01 00 64 07 D1", "81 03"},
    {"address", "figure 11", "01 00 60 00 05", "81 02"},
    {"quantity 2001 is above 2000", "6.2", "02 00 00 07 D1", "82 03"},
    {"address", "figure 12", "02 00 64 00 01", "82 02"},
    {"quantity 126 is above 125", "6.4", "04 00 00 00 7E", "84 03"},
    {"address", "figure 14", "04 00 64 00 01", "84 02"},
    {"value before address", "figure 15", "05 00 64 12 34", "85 03"},
    {"FFFF is no state of a coil", "6.5", "05 00 00 FF FF", "85 03"},
    {"address", "figure 15", "05 00 64 FF 00", "85 02"},
    {"address", "figure 16", "06 00 64 12 34", "86 02"},
    {"byte count 1 for 10 coils", "figure 21", "0F 00 00 00 0A 01 CD", "8F 03"},
    {"byte count before address", "figure 21", "0F 00 64 00 0A 01 CD", "8F 03"},
    {"second coil outside", "figure 21", "0F 00 63 00 02 01 03", "8F 02"},
    {"second register outside, the first not written", "figure 22", "10 00 63 00 02 04 00 01 00 02", "90 02"},
    {"byte count 3 for 2 registers", "figure 22", "10 00 00 00 02 03 00 01 00", "90 03"},
    {"quantity 0 before address", "figure 22", "10 00 64 00 00 00", "90 03"},
    {"mask write: address", "figure 26", "16 00 64 00 F2 00 25", "96 02"},
    {"read 126 above 125, the write is legal", "figure 27", "17 00 00 00 7E 00 00 00 01 02 00 01", "97 03"},
    {"read 0", "figure 27", "17 00 00 00 00 00 00 00 01 02 00 01", "97 03"},
    {"write 0", "figure 27", "17 00 00 00 01 00 00 00 00 00", "97 03"},
    {"byte count 2 for 2 registers", "figure 27", "17 00 00 00 01 00 00 00 02 02 00 01", "97 03"},
    {"byte count 2 for 2 registers that are there", "figure 27", "17 00 00 00 01 00 00 00 02 02 00 01 00 02",
     "97 03"},
    {"quantities before addresses", "figure 27", "17 00 64 00 01 00 64 00 02 02 00 01", "97 03"},
    {"write range outside, read range inside", "figure 27", "17 00 00 00 01 00 64 00 01 02 00 01", "97 02"},
    {"read range outside, write range inside: not written", "figure 27",
     "17 00 64 00 01 00 00 00 01 02 00 01", "97 02"},
    {"last register to be written outside", "figure 27", "17 00 00 00 01 00 63 00 02 04 00 01 00 02",
     "97 02"},
    {"choice: length before address, as in the state chart of Serial Line V1.02, appendix A", "figure 26",
     "16 00 64 00 F2 00", "96 03"},
    {"choice: bytes left over are a fault of structure", "section 7, code 03", "06 00 01 00 03 00", "86 03"},
    {"choice: bytes missing are one", "section 7, code 03", "03 00 00 00", "83 03"},
    {"file records are not supported", "6.14", "14 0E 06 00 04 00 01 00 02 06 00 03 00 09 00 02", "94 01"},
    {"file records are not supported", "6.15", "15 0D 06 00 04 00 07 00 03 06 AF 04 BE 10 0D", "95 01"},
    {"queues are not supported", "6.18", "18 04 DE", "98 01"},
    {"a reserved code", "annex A", "5A 00 00", "DA 01"},
    {"a user-defined code", "section 5", "41 00 00", "C1 01"},
    {"choice: code 0, for which there is no answer, is an illegal function", "section 4.1", "00 00 00",
     "80 01"},
    {"choice: so is a code from 80 on", "section 4.1", "83 02", "83 01"},
};

TEST_CASE("the first test that fails decides the exception, in the order of the state diagrams") {
  for (const auto& row : kRefusals) {
    CAPTURE(row.rule);
    CAPTURE(row.clause);
    CAPTURE(row.request);
    Memory memory(100);
    CHECK(to_hex(modbus::answer(hex(row.request), memory)) == row.answer);
    CHECK(memory.changes == 0);
    for (const auto line : {kField, kEthernet}) {
      Conformance device;
      CHECK(device.ask(kUnit, row.request, line) == row.answer);
      CHECK(device.heartbeat() == 0.0);
      CHECK(device.bench.unit(0).value(registers::Point::setpoint_source, device.now) == 0.0);
    }
  }
}

const Row kAnswers[] = {
    {"start 96, quantity 4", "section 7", "03 00 60 00 04", "03 08 00 00 00 00 00 00 00 00"},
    {"padding of the last byte is 0", "6.1", "01 00 00 00 0A", "01 02 00 00"},
    {"padding of the last byte is 0", "6.2", "02 00 5A 00 0A", "02 02 00 00"},
    {"input registers", "6.4", "04 00 63 00 01", "04 02 00 00"},
    {"a coil: the answer is an echo", "6.5", "05 00 63 FF 00", "05 00 63 FF 00"},
    {"a register: the answer is an echo", "6.6", "06 00 63 12 34", "06 00 63 12 34"},
    {"coils: address and quantity come back", "6.11", "0F 00 00 00 0A 02 00 00", "0F 00 00 00 0A"},
    {"registers: address and quantity come back", "6.12", "10 00 62 00 02 04 00 0A 01 02", "10 00 62 00 02"},
    {"mask write: the answer is an echo", "6.16", "16 00 04 00 F2 00 25", "16 00 04 00 F2 00 25"},
    {"what was just written is read", "6.17", "17 00 05 00 01 00 05 00 01 02 12 34", "17 02 12 34"},
};

TEST_CASE("a sound request gets the same answer from a memory and from a unit on either kind of line") {
  for (const auto& row : kAnswers) {
    CAPTURE(row.rule);
    CAPTURE(row.clause);
    Memory memory(100);
    CHECK(to_hex(modbus::answer(hex(row.request), memory)) == row.answer);
    for (const auto line : {kField, kEthernet}) {
      Conformance device;
      CHECK(device.ask(kUnit, row.request, line) == row.answer);
    }
  }
}

TEST_CASE("a mask write computes with what the unit's register holds") {
  // V1.1b3, 6.16: the example (12, masks F2 and 25, gives 17) and the identities that its formula implies.
  Conformance device;
  const struct {
    const char* request;
    double after;
  } steps[] = {
      {"06 00 04 00 12", 0x12},         {"16 00 04 00 F2 00 25", 0x17},
      {"16 00 04 FF FF AA AA", 0x17},    // everything kept
      {"16 00 04 00 00 43 21", 0x4321},  // everything from the OR mask
      {"16 00 04 00 00 00 00", 0},
  };
  for (const auto& step : steps) {
    CAPTURE(step.request);
    CHECK(device.ask(kUnit, step.request) == step.request);
    CHECK(device.heartbeat() == step.after);
  }
}

TEST_CASE("17 takes up to 121 registers to write and 125 to read, and no more") {
  // V1.1b3, 6.17. A write of 122 would make a PDU of 254 bytes, which no line carries; the memory refuses it
  // too.
  Memory memory(300);
  const auto request = [](std::uint8_t read, std::uint8_t write) {
    auto pdu = hex("17 00 00 00 00 00 00 00 00 00");
    pdu[4] = read;
    pdu[8] = write;
    pdu[9] = static_cast<std::uint8_t>(2 * write);
    pdu.resize(pdu.size() + 2u * write, 0x11);
    return pdu;
  };
  CHECK(request(125, 121).size() == 252);
  const auto reply = modbus::answer(request(125, 121), memory);
  CHECK(reply.size() == 252);
  CHECK(reply[1] == 250);
  CHECK(memory.changes == 1);
  CHECK(to_hex(modbus::answer(request(126, 121), memory)) == "97 03");
  CHECK(to_hex(modbus::answer(request(125, 122), memory)) == "97 03");
  CHECK(memory.changes == 1);
}

TEST_CASE("an io-block refuses registers to write as addresses that it does not have") {
  Conformance device;
  CHECK(device.ask(kBlock, "16 00 00 00 F2 00 25") == "96 02");
  CHECK(device.ask(kBlock, "17 00 00 00 01 00 00 00 01 02 00 01") == "97 02");
  CHECK(device.ask(kBlock, "05 00 08 FF 00") == "05 00 08 FF 00");
  CHECK(device.ask(kBlock, "01 00 08 00 01") == "01 01 01");
}

TEST_CASE("only 05, 06, 0F, 10 and 16 act when they are broadcast, and nobody answers") {
  // Serial Line V1.02, 2.1: broadcast requests are necessarily writing commands, and get no response.
  const struct {
    const char* pdu;
    double heartbeat;
    double source;
  } rows[] = {
      {"05 00 01 FF 00", 0, 1},       {"06 00 01 00 03", 3, 0},
      {"0F 00 01 00 01 01 01", 0, 1}, {"10 00 01 00 01 02 00 04", 4, 0},
      {"16 00 01 00 00 00 05", 5, 0}, {"17 00 01 00 01 00 01 00 01 02 00 06", 0, 0},
      {"06 00 64 00 03", 0, 0},  // refused, in silence too
      {"05 00 01 12 34", 0, 0},
  };
  for (const auto& row : rows) {
    CAPTURE(row.pdu);
    Conformance device;
    CHECK(device.ask(0, row.pdu).empty());
    CHECK(device.heartbeat() == row.heartbeat);
    CHECK(device.bench.unit(0).value(registers::Point::setpoint_source, device.now) == row.source);
  }
  for (const auto* pdu : {"01 00 00 00 01", "02 00 00 00 01", "03 00 00 00 01", "04 00 00 00 01", "07", "0B",
                          "0C", "11", "2B 0E 01 00", "08 00 04 00 00", "41"}) {
    CAPTURE(pdu);
    Conformance device;
    (void)device.ask(kUnit, "03 00 00 00 01");
    device.now += std::chrono::seconds{1};
    CHECK(device.ask(0, pdu).empty());
    // No sign of life either, and 08/04 has not silenced the unit.
    CHECK(device.bench.unit(0).value(registers::Point::comms_age, device.now) == 1.0);
    CHECK(device.ask(kUnit, "08 00 00 A5 37") == "08 00 00 A5 37");
    CHECK(device.bench.unit(0).value(registers::Point::comms_age, device.now) == 0.0);
  }
}

TEST_CASE("a broadcast write is carried out by every unit and io-block on its line and on no other") {
  Conformance device;
  CHECK(device.ask(0, "05 00 08 FF 00").empty());
  CHECK(device.ask(kBlock, "01 00 08 00 01") == "01 01 01");
  CHECK(device.ask(kUnit, "01 00 08 00 01") == "01 01 01");
  Conformance other;
  // On TCP unit id 0 is no broadcast; with two slaves it stands for none of them.
  CHECK(other.ask(0, "05 00 08 FF 00", kEthernet).empty());
  CHECK(other.ask(kUnit, "01 00 08 00 01") == "01 01 00");
}

}  // namespace
}  // namespace emberline::test
