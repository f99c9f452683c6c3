// The functions about the device itself, rule by rule, asked of a whole unit and an io-block: MODBUS
// Application Protocol Specification V1.1b3 (2012), 6.7 to 6.10, 6.13, 6.21, MODBUS over Serial Line V1.02
// (2006), appendix A. Where the two leave something open, "choice" says what was decided.
#include <chrono>
#include <string>

#include <doctest/doctest.h>

#include "tests/published/conformance_bench.hpp"

namespace emberline::test {
namespace {

using namespace std::chrono_literals;

struct Row {
  const char* rule;
  const char* clause;
  const char* request;
  const char* answer;  ///< "": none
};

const Row kOnSerialLines[] = {
    {"exception status: one byte, of no trip", "6.7", "07", "07 00"},
    {"choice: bytes left over are a fault of structure", "6.7", "07 00", "87 03"},
    {"loop-back", "6.8, 00", "08 00 00 A5 37", "08 00 00 A5 37"},
    {"loop-back of any data", "6.8, 00", "08 00 00 12 34 56 78", "08 00 00 12 34 56 78"},
    {"choice: of a length that is odd, or none", "6.8, 00", "08 00 00 12", "08 00 00 12"},
    {"choice: of a length that is odd, or none", "6.8, 00", "08 00 00", "08 00 00"},
    {"restart, log kept", "6.8, 01", "08 00 01 00 00", "08 00 01 00 00"},
    {"restart, log cleared", "6.8, 01", "08 00 01 FF 00", "08 00 01 FF 00"},
    {"restart: data 0000 or FF00", "6.8, 01", "08 00 01 00 01", "88 03"},
    {"diagnostic register", "6.8, 02", "08 00 02 00 00", "08 00 02 00 00"},
    {"data 0000", "6.8, 02", "08 00 02 00 01", "88 03"},
    {"ASCII delimiter: the character, then 00", "6.8, 03", "08 00 03 3B 00", "08 00 03 3B 00"},
    {"ASCII delimiter: the character, then 00", "6.8, 03", "08 00 03 00 3B", "88 03"},
    {"force listen-only: no answer", "6.8, 04", "08 00 04 00 00", ""},
    {"data 0000", "6.8, 04", "08 00 04 00 01", "88 03"},
    {"reserved sub-function", "6.8, figure 18", "08 00 05 00 00", "88 01"},
    {"reserved sub-function before its data", "6.8, figure 18", "08 00 09 12 34", "88 01"},
    {"reserved sub-function", "annex A, 08/19", "08 00 13 00 00", "88 01"},
    {"reserved sub-function", "annex A, 08/21 on", "08 00 15 00 00", "88 01"},
    {"reserved sub-function", "annex A, 08/65535", "08 FF FF 00 00", "88 01"},
    {"clear counters and diagnostic register", "6.8, 0A", "08 00 0A 00 00", "08 00 0A 00 00"},
    {"data must be 0000", "6.8, 0A", "08 00 0A 00 01", "88 03"},
    {"bus messages, this one included", "6.8, 0B", "08 00 0B 00 00", "08 00 0B 00 01"},
    {"bus communication errors", "6.8, 0C", "08 00 0C 00 00", "08 00 0C 00 00"},
    {"bus exceptions", "6.8, 0D", "08 00 0D 00 00", "08 00 0D 00 00"},
    {"server messages, this one included", "6.8, 0E", "08 00 0E 00 00", "08 00 0E 00 01"},
    {"no response", "6.8, 0F", "08 00 0F 00 00", "08 00 0F 00 00"},
    {"server NAK", "6.8, 10", "08 00 10 00 00", "08 00 10 00 00"},
    {"server busy", "6.8, 11", "08 00 11 00 00", "08 00 11 00 00"},
    {"character overruns", "6.8, 12", "08 00 12 00 00", "08 00 12 00 00"},
    {"clear overrun counter and flag", "6.8, 14", "08 00 14 00 00", "08 00 14 00 00"},
    {"choice: half a sub-function is a fault of structure", "6.8, figure 18", "08 00", "88 03"},
    {"choice: data of another length, too", "6.8, figure 18", "08 00 0B 00 00 00", "88 03"},
    {"event counter: ready, no event yet", "6.9", "0B", "0B 00 00 00 00"},
    {"choice: bytes left over are a fault of structure", "6.9", "0B 00", "8B 03"},
    {"event log: ready, no event, one message; its own receipt", "6.10", "0C", "0C 07 00 00 00 00 00 01 80"},
    {"choice: bytes left over are a fault of structure", "6.10", "0C 00", "8C 03"},
    {"choice: bytes left over are a fault of structure", "6.13", "11 00", "91 03"},
};

const Row kOnEveryLine[] = {
    {"MEI types but 0E are not supported; 01 fits best", "6.19", "2B 0D 00", "AB 01"},
    {"choice: without its MEI type it is a fault of structure", "figure 30", "2B", "AB 03"},
    {"read code 5, object 00 is there", "figure 30", "2B 0E 05 00", "AB 03"},
    {"read code 0", "figure 30", "2B 0E 00 00", "AB 03"},
    {"object before read code", "figure 30", "2B 0E 05 70", "AB 02"},
    {"one object that is not there", "6.21", "2B 0E 04 70", "AB 02"},
    {"bytes missing", "figure 30", "2B 0E 01", "AB 03"},
    {"revision: alone, level 81, nothing follows", "6.21", "2B 0E 04 02",
     "2B 0E 04 81 00 00 01 02 03 31 2E 30"},
};

TEST_CASE("a fresh unit and a fresh io-block answer on a serial line as the rules say") {
  for (const auto id : {kUnit, kBlock}) {
    for (const auto& row : kOnSerialLines) {
      CAPTURE(row.rule);
      CAPTURE(row.clause);
      CAPTURE(row.request);
      Conformance device;
      CHECK(device.ask(id, row.request) == row.answer);
    }
  }
}

TEST_CASE("what is for serial lines only is no supported function on TCP, identification is") {
  // V1.1b3, 6.7, 6.8, 6.9, 6.10 and 6.13 are labelled "Serial Line only". choice: exception 01 elsewhere.
  for (const auto id : {kUnit, kBlock}) {
    for (const auto& row : kOnSerialLines) {
      CAPTURE(row.request);
      Conformance device;
      const auto code = hex(row.request)[0];
      CHECK(device.ask(id, row.request, kEthernet) ==
            to_hex(modbus::Bytes{static_cast<std::uint8_t>(code | 0x80u), 0x01}));
    }
    CHECK(Conformance().ask(id, "11", kEthernet) == "91 01");
    for (const auto line : {kField, kEthernet}) {
      for (const auto& row : kOnEveryLine) {
        CAPTURE(row.rule);
        CAPTURE(row.request);
        Conformance device;
        CHECK(device.ask(id, row.request, line) == row.answer);
      }
    }
  }
}

TEST_CASE("the server id says who it is and whether it may deliver") {
  // V1.1b3, 6.13: server id, then FF on or 00 off, then what the device likes. choice: on is running, holding
  // or at its preset; the id is the unit id.
  Conformance device;
  const std::string text =
      to_hex(modbus::Bytes{'E', 'm', 'b', 'e', 'r', 'l', 'i', 'n', 'e', ' ', 'v', 'i', 'r',
                           't', 'u', 'a', 'l', '-', 'u', 'n', 'i', 't', ' ', '1', '.', '0'});
  CHECK(device.ask(kUnit, "11") == "11 1C 01 00 " + text);  // enable hangs on a coil that nobody has written
  CHECK(device.ask(kBlock, "05 00 00 FF 00") == "05 00 00 FF 00");
  CHECK(device.ask(kUnit, "11") == "11 1C 01 FF " + text);
  CHECK(device.ask(kBlock, "11").starts_with("11 20 14 FF 45 6D 62"));
}

TEST_CASE("the exception status is the low byte of the trips") {
  // V1.1b3, 6.7: eight outputs, device specific. Here bit 0 is the comms-loss trip.
  auto spec = conformance_spec();
  spec.units[0].unit.comms_loss.policy = registers::Policy::latch_to_inhibit;
  Conformance device(std::move(spec));
  CHECK(device.ask(kUnit, "07") == "07 00");
  device.now += 4s;  // timeout 3 s
  CHECK(device.ask(kUnit, "07") == "07 01");
}

TEST_CASE("a unit without power answers none of it, and comes back with clean counters") {
  Conformance device;
  (void)device.ask(kUnit, "03 00 64 00 01");
  CHECK(device.ask(kUnit, "08 00 04 00 00").empty());
  device.bench.set_unit_powered(0, false, device.now);
  for (const auto* pdu : {"07", "08 00 00 A5 37", "08 00 01 00 00", "0B", "0C", "11", "2B 0E 01 00"})
    CHECK(device.ask(kUnit, pdu).empty());
  device.bench.set_unit_powered(0, true, device.now);
  device.bench.set_unit_powered(0, true, device.now);  // once more changes nothing
  (void)device.ask(kBlock, "0B");                      // still starting: it hears nothing
  device.now += 2s;
  device.bench.timers().run(device.now);
  CHECK(device.ask(kUnit, "08 00 0D 00 00") == "08 00 0D 00 00");
  CHECK(device.ask(kUnit, "08 00 0B 00 00") == "08 00 0B 00 02");
  CHECK(device.ask(kBlock, "08 00 0B 00 00") != "08 00 0B 00 03");  // its own port has heard everything
}

TEST_CASE("counters count what the state chart of appendix A counts") {
  // Serial Line V1.02, appendix A, in numbers: three good reads, one frame with a bad CRC, one broadcast
  // write, one read for another unit, one of an address that is not there.
  for (const auto id : {kUnit, kBlock}) {
    Conformance device;
    const auto other = id == kUnit ? kBlock : kUnit;
    const char* const read = id == kUnit ? "03 00 00 00 01" : "04 00 00 00 01";
    const char* const bad_address = id == kUnit ? "03 00 64 00 01" : "04 00 64 00 01";
    CHECK(device.ask(id, "08 00 0A 00 00") == "08 00 0A 00 00");
    for (int i = 0; i < 3; ++i) CHECK(device.ask(id, read).size() > 5);
    device.bench.heard(kField, modbus::Heard::comm_error);
    CHECK(device.ask(0, "05 00 08 FF 00").empty());
    CHECK_FALSE(device.ask(other, "2B 0E 01 00").empty());
    CHECK(device.ask(id, bad_address).size() == 5);
    CHECK(device.ask(id, "08 00 0B 00 00") ==
          "08 00 0B 00 07");  // 6, and the query: counted before its answer
    CHECK(device.ask(id, "08 00 0C 00 00") == "08 00 0C 00 01");
    CHECK(device.ask(id, "08 00 0D 00 00") == "08 00 0D 00 01");
    CHECK(device.ask(id, "08 00 0E 00 00") == "08 00 0E 00 09");  // 5, 3 queries, this query
    CHECK(device.ask(id, "08 00 0F 00 00") == "08 00 0F 00 01");
    // Events: three reads, the broadcast and five queries were completed; the refused read was not, nor is
    // 0B.
    CHECK(device.ask(id, "0B") == "0B 00 00 00 09");
    CHECK(device.ask(id, "0B") == "0B 00 00 00 09");
  }
}

TEST_CASE("a broadcast that is refused or prohibited counts as an exception, in silence") {
  // Serial Line V1.02, appendix A; V1.1b3, 6.8, counts exception answers only.
  for (const auto* pdu :
       {"06 00 64 00 01", "05 00 00 12 34", "03 00 00 00 01", "17 00 01 00 01 00 01 00 01 02 00 06"}) {
    CAPTURE(pdu);
    Conformance device;
    CHECK(device.ask(0, pdu).empty());
    CHECK(device.ask(kUnit, "08 00 0D 00 00") == "08 00 0D 00 01");
    CHECK(device.ask(kUnit, "08 00 0F 00 00") == "08 00 0F 00 01");
    CHECK(device.ask(kUnit, "08 00 0E 00 00") == "08 00 0E 00 04");
    CHECK(device.ask(kUnit, "0B") == "0B 00 00 00 03");
  }
}

TEST_CASE("a device that is too often asked counts its busy answers") {
  // V1.1b3, 6.8, 11 (hex): exception 06.
  auto spec = conformance_spec();
  spec.units[0].unit.intake = {
      .largest_block = std::nullopt, .reads_per_second = 2, .beyond = unit::Beyond::exception};
  Conformance device(std::move(spec));
  CHECK(device.ask(kUnit, "03 00 00 00 01") == "03 02 00 00");
  CHECK(device.ask(kUnit, "17 00 00 00 01 00 00 00 01 02 00 07") == "17 02 00 07");
  CHECK(device.ask(kUnit, "17 00 00 00 01 00 00 00 01 02 00 08") == "97 06");
  CHECK(device.heartbeat() == 7);  // refused whole, its write too
  CHECK(device.ask(kUnit, "03 00 00 00 01") == "83 06");
  CHECK(device.ask(kUnit, "08 00 11 00 00") == "08 00 11 00 02");
  CHECK(device.ask(kUnit, "08 00 0D 00 00") == "08 00 0D 00 02");
}

TEST_CASE("the event log tells the story of the port, newest first") {
  // V1.1b3, 6.10. The example there explains an event 20 as entering listen-only mode; by the definition it
  // is 04.
  Conformance device;
  (void)device.ask(kUnit, "03 00 00 00 01");              // 80 40
  (void)device.ask(kUnit, "03 00 64 00 01");              // 80 41
  device.bench.heard(kField, modbus::Heard::comm_error);  // 82
  (void)device.ask(0, "06 00 00 00 01");                  // C0 40
  (void)device.ask(kBlock, "0B");                         // for another: not in this log
  CHECK(device.ask(kUnit, "0C") == "0C 0E 00 00 00 02 00 05 80 40 C0 82 41 80 40 80");
  (void)device.ask(kUnit, "08 00 04 00 00");  // 80, 04, 60
  (void)device.ask(kUnit, "03 00 00 00 01");  // A0
  (void)device.ask(kUnit, "08 00 01 00 00");  // A0, 60, 00
  CHECK(device.ask(kUnit, "0C") ==
        "0C 17 00 00 00 00 00 01 80 00 60 A0 A0 60 04 80 40 80 40 C0 82 41 80 40 80");
  CHECK(device.ask(kUnit, "08 00 01 FF 00") == "08 00 01 FF 00");
  CHECK(device.ask(kUnit, "0C") == "0C 08 00 00 00 00 00 01 80 00");
}

TEST_CASE("a unit in listen-only mode acts on nothing, is fed by nothing and lets its watchdog expire") {
  // V1.1b3, 6.8, 04: messages are monitored, no action is taken and no response is sent; the watchdog that
  // stands behind it is left to expire and locks the controls off.
  Conformance device;
  CHECK(device.ask(kBlock, "05 00 00 FF 00") == "05 00 00 FF 00");
  CHECK(device.ask(kUnit, "06 00 00 00 05") == "06 00 00 00 05");
  CHECK(device.ask(kUnit, "08 00 04 00 00").empty());  // processed: the last frame that feeds
  for (int i = 0; i < 29; ++i) {
    device.now += 100ms;
    CHECK(device.ask(kUnit, "06 00 00 00 09").empty());
    CHECK(device.ask(0, "06 00 00 00 09").empty());
  }
  CHECK(device.heartbeat() == 5);
  CHECK(device.bench.unit(0).state() == registers::State::running);
  device.now += 200ms;
  CHECK(device.ask(kUnit, "03 00 00 00 01").empty());
  CHECK(device.bench.unit(0).state() == registers::State::inhibited);
  CHECK(device.ask(kUnit, "08 00 01 00 00").empty());  // leaves it, without an answer
  CHECK(device.ask(kUnit, "03 00 00 00 01") == "03 02 00 05");
  CHECK(device.bench.unit(0).state() == registers::State::inhibited);  // the latch wants its reset sequence
}

TEST_CASE("listen-only mode is one of the port: the other line of the same unit goes on") {
  Conformance device;
  CHECK(device.ask(kUnit, "08 00 04 00 00").empty());
  CHECK(device.ask(kUnit, "03 00 00 00 01").empty());
  CHECK(device.ask(kUnit, "06 00 00 00 07", kEthernet) == "06 00 00 00 07");
  CHECK(device.ask(kBlock, "0B") == "0B 00 00 00 00");
  const auto said = [&](std::string_view words) {
    int count = 0;
    for (const auto& entry : device.bench.journal().entries())
      if (entry.subject == "heater" && entry.sentence.find(words) != std::string::npos) ++count;
    return count;
  };
  CHECK(said("listen-only mode forced by plc") == 1);
  CHECK(said("communications restarted by plc") == 0);
  (void)device.ask(kUnit, "08 00 01 00 00");
  CHECK(said("communications restarted by plc") == 1);
}

TEST_CASE("listen-only mode drops an io-block's outputs where its own watchdog is set") {
  Conformance device;  // outputs_off_after 10 s
  CHECK(device.ask(kBlock, "05 00 08 FF 00") == "05 00 08 FF 00");
  CHECK(device.ask(kBlock, "08 00 04 00 00").empty());
  for (int i = 0; i < 11; ++i) {
    device.now += 1s;
    CHECK(device.ask(kBlock, "01 00 08 00 01").empty());
  }
  CHECK(device.ask(kBlock, "01 00 08 00 01", kEthernet) == "01 01 00");
}

TEST_CASE("a device that is not basic gives its objects over a line as it does alone") {
  auto spec = conformance_spec();
  spec.units[0].unit.identity.objects[0x05] = "Forty";
  spec.units[0].unit.identity.objects[0x80] = "hall 2";
  Conformance device(std::move(spec));
  CHECK(device.ask(kUnit, "2B 0E 04 05") == "2B 0E 04 83 00 00 01 05 05 46 6F 72 74 79");
  CHECK(device.ask(kUnit, "2B 0E 03 05", kEthernet) ==
        "2B 0E 03 83 00 00 02 05 05 46 6F 72 74 79 80 06 68 61 6C 6C 20 32");
}

}  // namespace
}  // namespace emberline::test
