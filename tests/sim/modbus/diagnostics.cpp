#include "sim/modbus/diagnostics.hpp"

#include <string>

#include <doctest/doctest.h>

#include "sim/modbus/pdu.hpp"
#include "sim/modbus/slave.hpp"
#include "tests/sim/modbus/hex.hpp"

// Section numbers are those of the MODBUS Application Protocol Specification V1.1b3.

namespace emberline::modbus {
namespace {

using test::hex;
using test::to_hex;

/// A slave that answers 08, 0B and 0C by its port and echoes everything else, behind one serial port.
struct Slave01 {
  std::string ask(std::string_view pdu, bool broadcast = false) {
    const auto request = hex(pdu);
    port.heard(Heard::good_frame);
    const auto reply = serve(request, {SimTime{}, "field", "plc", broadcast, &port}, [&] {
      ++processed;
      const bool ours = request[0] == 0x08 || request[0] == 0x0B || request[0] == 0x0C;
      return ours ? port.answer(request) : gives;
    });
    return reply ? to_hex(*reply) : "";
  }
  [[nodiscard]] std::string log() const { return to_hex(Bytes(port.log().begin(), port.log().end())); }

  Diagnostics port;
  std::optional<Bytes> gives = hex("03 02 00 0A");
  int processed = 0;
};

TEST_CASE("a counter of 16 bits goes on at 0 behind FFFF") {
  Slave01 slave;
  for (int i = 0; i < 0xFFFF; ++i) slave.port.heard(Heard::comm_error);
  CHECK(slave.ask("08 00 0C 00 00") == "08 00 0C FF FF");
  slave.port.heard(Heard::comm_error);
  CHECK(slave.ask("08 00 0C 00 00") == "08 00 0C 00 00");
}

TEST_CASE("the event log keeps the newest 64 entries, newest first") {
  // 6.10: 0 to 64 bytes, byte 0 is the most recent; the byte count of the answer is 6 more.
  Slave01 slave;
  for (int i = 0; i < 100; ++i) slave.port.heard(Heard::comm_error);
  const auto reply = hex(slave.ask("0C"));
  REQUIRE(reply.size() == 2 + 6 + 64);
  CHECK(reply[1] == 70);
  CHECK(reply[8] == 0x80);  // the query itself
  for (std::size_t i = 9; i < reply.size(); ++i) CHECK(reply[i] == 0x82);
  CHECK(slave.port.log().size() == Diagnostics::kLogMax);
}

TEST_CASE("every event is noted with the bits that the standard gives it") {
  // 6.10, "what the event bytes contain".
  Slave01 slave;
  slave.port.heard(Heard::comm_error);
  CHECK(slave.log() == "82");
  slave.port.heard(Heard::overrun);
  CHECK(slave.log() == "92 82");
  struct Row {
    const char* source;
    const char* answer;
    const char* newest;
  };
  const Row rows[] = {
      {"answered: bit 6", "03 02 00 0A", "40"},   {"exception 01: bit 0", "83 01", "41"},
      {"exception 02: bit 0", "83 02", "41"},     {"exception 03: bit 0", "83 03", "41"},
      {"exception 04: bit 1", "83 04", "42"},     {"exception 05: bit 2", "83 05", "44"},
      {"exception 06: bit 2", "83 06", "44"},     {"exception 07: bit 3", "83 07", "48"},
      {"exception 0B has no bit", "83 0B", "40"},
  };
  for (const auto& row : rows) {
    CAPTURE(row.source);
    slave.port.power_up();
    slave.gives = hex(row.answer);
    (void)slave.ask("03 00 00 00 01");
    CHECK(slave.log() == std::string(row.newest) + " 80");
  }
  slave.port.power_up();
  slave.gives = std::nullopt;  // dropped by the slave
  CHECK(slave.ask("03 00 00 00 01").empty());
  CHECK(slave.log() == "40 80");
  slave.port.power_up();
  slave.gives = hex("86 02");
  CHECK(slave.ask("06 00 00 00 01", true).empty());  // refused, but no exception is sent
  CHECK(slave.log() == "40 C0");
}

TEST_CASE("an answer, an exception, a drop and a broadcast are counted where they belong") {
  Slave01 slave;
  const auto& counters = slave.port.counters();
  (void)slave.ask("03 00 00 00 01");
  CHECK(slave.port.events() == 1);
  slave.gives = hex("83 06");
  (void)slave.ask("03 00 00 00 01");
  CHECK(counters.busy == 1);
  CHECK(counters.bus_exceptions == 1);
  slave.gives = hex("83 07");
  (void)slave.ask("03 00 00 00 01");
  CHECK(counters.naks == 1);
  CHECK(counters.bus_exceptions == 2);
  slave.gives = std::nullopt;
  (void)slave.ask("03 00 00 00 01");
  CHECK(counters.no_responses == 1);
  CHECK(slave.port.events() == 1);
  slave.gives = hex("06 00 00 00 01");
  (void)slave.ask("06 00 00 00 01", true);
  CHECK(counters.no_responses == 2);
  CHECK(slave.port.events() == 2);
  slave.gives = hex("86 06");
  (void)slave.ask("06 00 00 00 01", true);  // refused in silence: an exception that was not sent
  CHECK(counters.no_responses == 3);
  CHECK(counters.bus_exceptions == 3);
  CHECK(counters.busy == 1);
  CHECK(slave.port.events() == 2);
  CHECK(counters.server_messages == 6);
  CHECK(counters.bus_messages == 6);
}

TEST_CASE("a function that may not be broadcast does not reach the slave") {
  Slave01 slave;
  for (int code = 1; code < 256; ++code) {
    const auto function = static_cast<std::uint8_t>(code);
    slave.processed = 0;
    CHECK(slave.ask(to_hex(Bytes{function, 0, 4, 0, 0}), true).empty());
    CHECK(slave.processed == (may_be_broadcast(function) ? 1 : 0));
  }
  CHECK_FALSE(slave.port.listen_only());
}

TEST_CASE("listen-only mode swallows everything but a sound 08/01, which ends it in silence") {
  Slave01 slave;
  CHECK(slave.ask("08 00 04 00 00").empty());
  CHECK(slave.port.listen_only());
  CHECK(slave.log() == "60 04 80");
  slave.processed = 0;
  for (const auto* pdu :
       {"03 00 00 00 01", "06 00 01 00 03", "0B", "0C", "08 00 00 A5 37", "08 00 04 00 00", "08 00 0A 00 00",
        "08 00 01 00 01", "08 00 01", "08 00 01 00 00 00", "11", "2B 0E 01 00"}) {
    CAPTURE(pdu);
    CHECK(slave.ask(pdu).empty());
    CHECK(slave.log().starts_with("A0"));
  }
  CHECK(slave.ask("06 00 01 00 03", true).empty());
  CHECK(slave.log().starts_with("E0"));
  CHECK(slave.ask("08 00 01 00 00", true).empty());  // a broadcast is swallowed like any other
  CHECK(slave.log().starts_with("E0 E0"));
  CHECK(slave.port.counters().server_messages == 1);  // the one that silenced it
  slave.port.heard(Heard::comm_error);
  CHECK(slave.log().starts_with("A2"));
  CHECK(slave.processed == 0);
  CHECK(slave.port.listen_only());

  CHECK(slave.ask("08 00 01 00 00").empty());
  CHECK_FALSE(slave.port.listen_only());
  CHECK(slave.log().starts_with("00 60 A0"));
  CHECK(slave.ask("08 00 00 A5 37") == "08 00 00 A5 37");
  CHECK(slave.port.counters().bus_messages == 1);  // cleared by the restart
}

TEST_CASE("a power-up leaves listen-only mode and forgets counters and log") {
  Slave01 slave;
  slave.port.heard(Heard::overrun);
  (void)slave.ask("08 00 04 00 00");
  slave.port.power_up();
  CHECK_FALSE(slave.port.listen_only());
  CHECK(slave.log().empty());
  CHECK(slave.ask("08 00 0B 00 00") == "08 00 0B 00 01");
  CHECK(slave.ask("08 00 12 00 00") == "08 00 12 00 00");
  CHECK(slave.ask("08 00 02 00 00") == "08 00 02 00 00");
}

TEST_CASE("a restart that is answered comes after its answer, and keeps or clears the log as asked") {
  Slave01 slave;
  (void)slave.ask("03 00 00 00 01");
  CHECK(slave.ask("08 00 01 00 00") == "08 00 01 00 00");
  CHECK(slave.log() == "00 40 80 40 80");
  CHECK(slave.port.events() == 0);
  CHECK(slave.ask("08 00 01 FF 00") == "08 00 01 FF 00");
  CHECK(slave.log() == "00");
  CHECK(slave.port.counters().server_messages == 0);
}

TEST_CASE("the overrun flag and its counter are cleared by 08/14 alone or with the rest by 08/0A") {
  Slave01 slave;
  for (const auto* clears : {"08 00 14 00 00", "08 00 0A 00 00"}) {
    CAPTURE(clears);
    slave.port.heard(Heard::overrun);
    CHECK(slave.ask("08 00 12 00 00") == "08 00 12 00 01");
    CHECK(slave.ask("08 00 02 00 00") == "08 00 02 00 01");
    CHECK(slave.ask(clears) == clears);
    CHECK(slave.ask("08 00 12 00 00") == "08 00 12 00 00");
    CHECK(slave.ask("08 00 02 00 00") == "08 00 02 00 00");
  }
}

TEST_CASE("08/14 leaves the other counters alone") {
  Slave01 slave;
  slave.port.heard(Heard::comm_error);
  (void)slave.ask("08 00 14 00 00");
  CHECK(slave.ask("08 00 0C 00 00") == "08 00 0C 00 01");
  CHECK(slave.ask("08 00 0B 00 00") == "08 00 0B 00 03");
}

}  // namespace
}  // namespace emberline::modbus
