#include "sim/polling/line_time.hpp"

#include <chrono>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/io/master/stepped_wire.hpp"
#include "sim/modbus/crc.hpp"
#include "sim/modbus/mbap_framer.hpp"
#include "sim/modbus/rtu_framer.hpp"
#include "tests/sim/polling/wishes.hpp"

using namespace emberline;
using namespace emberline::polling;
using namespace std::chrono_literals;
using modbus::Table;

namespace {

/// Two roundings to whole nanoseconds, and one to spare.
bool about(Duration one, Duration other) { return std::chrono::abs(one - other) <= 3ns; }

bench::LineSpec line_at(int baud) {
  bench::LineSpec line;
  line.serial.baud = baud;
  return line;
}

/// One request on a simulated line, and when the next could begin.
struct Measured {
  Duration request{};
  Duration answer{};
  Duration whole{};
};

Measured measure(const bench::BenchSpec& spec, std::size_t line, int id, const modbus::Bytes& pdu) {
  bench::Bench bench(spec);
  io::StandInEnd end(bench, line, "plc", 0, 10s);
  io::SteppedWire wire(bench, line);
  wire.attach(end);
  const auto unit_id = static_cast<std::uint8_t>(id);
  const modbus::Bytes frame = bench::carries_rtu(spec.lines[line].kind) ? modbus::rtu_frame(unit_id, pdu)
                                                                        : modbus::mbap_frame(1, unit_id, pdu);
  const SimTime begun{5s};  // the unit has started up
  wire.send(end, frame, begun);
  Measured measured;
  measured.request = end.asked_at - begun;
  for (;;) {
    const auto next = wire.next();
    REQUIRE(next);
    const auto delivery = wire.step(*next);
    if (!delivery) continue;
    const std::size_t function_at = bench::carries_rtu(spec.lines[line].kind) ? 1 : 7;
    REQUIRE(delivery->bytes.at(function_at) == pdu[0]);  // no exception
    measured.answer = *next - end.asked_at;
    wire.done(end, *next);
    wire.send(end, frame, *next);
    measured.whole = *end.deadline - end.timeout - begun;
    return measured;
  }
}

modbus::Bytes read_pdu(int function, int first, int count) {
  return {static_cast<std::uint8_t>(function), static_cast<std::uint8_t>(first >> 8),
          static_cast<std::uint8_t>(first), static_cast<std::uint8_t>(count >> 8),
          static_cast<std::uint8_t>(count)};
}

}  // namespace

TEST_CASE("a read takes the characters and silences that the standard gives it, worked out by hand") {
  // MODBUS over Serial Line V1.02, 2.5.1: 11 bits a character; 2.5.1.1: t3.5 is 3.5 characters, and 1.750 ms
  // above 19200 bit/s. A request has 8 characters, an answer of 10 registers 5 + 20, one of 12 bits 5 + 2.
  struct Row {
    int baud;
    Table table;
    int count;
    Duration request;
    Duration answer;
    Duration whole;
    const char* worked_out;
  };
  const Row rows[] = {
      {19200, Table::holding_registers, 10, 4583333ns, 16328125ns, 22916667ns,
       "8 x 11 / 19200 = 4.583333 ms; 3.5 + 25 = 28.5 x 11 / 19200 = 16.328125; 40 x 11 / 19200 = 22.916667"},
      {9600, Table::input_registers, 10, 9166667ns, 32656250ns, 45833333ns, "twice that"},
      {1200, Table::coils, 12, 73333333ns, 96250000ns, 201666667ns,
       "8 x 11 / 1200 = 73.333333 ms; 3.5 + 7 = 10.5 x 11 / 1200 = 96.25; 22 x 11 / 1200 = 201.666667"},
      {115200, Table::holding_registers, 10, 763889ns, 4137153ns, 6651042ns,
       "8 x 11 / 115200 = 0.763889 ms; 1.75 + 25 x 11 / 115200 = 4.137153; + 1.75 = 6.651042"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.worked_out);
    const Exchange exchange = read_exchange(line_at(row.baud), {}, {}, row.table, row.count);
    CHECK(about(exchange.request, row.request));
    CHECK(about(exchange.answer, row.answer));
    CHECK(about(exchange.whole, row.whole));
    // What the slave and the master need comes on top.
    const Exchange slow = read_exchange(line_at(row.baud), 7ms, 20ms, row.table, row.count);
    CHECK(about(slow.request, row.request));
    CHECK(about(slow.answer, row.answer + 7ms));
    CHECK(about(slow.whole, row.whole + 27ms));
  }
}

TEST_CASE("an exchange takes as long as it does on the simulated line") {
  struct Row {
    std::string kind;
    int id;  // soak-heater 1, cooling-heater 3
    Table table;
    int count;
    bool write;
    modbus::Bytes pdu;
  };
  const Row rows[] = {
      {"12 registers", 1, Table::holding_registers, 12, false, read_pdu(3, 0x0040, 12)},
      {"one register", 1, Table::input_registers, 1, false, read_pdu(4, 0x0041, 1)},
      {"two registers, one float", 3, Table::input_registers, 2, false, read_pdu(4, 1200, 2)},
      {"4 bits", 3, Table::discrete_inputs, 4, false, read_pdu(2, 32, 4)},
      {"9 bits, gaps read 0", 3, Table::discrete_inputs, 9, false, read_pdu(2, 30, 9)},
      {"one register written", 1, Table::holding_registers, 1, true, {0x06, 0x00, 0x30, 0x00, 0x64}},
      {"a float written",
       3,
       Table::holding_registers,
       2,
       true,
       {0x10, 0x09, 0xC4, 0x00, 0x02, 0x04, 0x00, 0x00, 0x41, 0x20}},
      {"a coil written", 3, Table::coils, 1, true, {0x05, 0x00, 0x10, 0x00, 0x00}},
  };
  int compared = 0;
  for (const int baud : {1200, 9600, 19200, 38400, 115200, 0}) {  // 0: TCP
    for (const Duration turnaround : {Duration{}, Duration{7ms}}) {
      bench::BenchSpec spec = testing::lehr();
      const std::size_t line = spec.find_line(baud == 0 ? "ethernet" : "field").value();
      if (baud != 0) spec.lines[line].serial = {baud, 8, baud == 9600 ? 'N' : 'E', baud == 9600 ? 2 : 1};
      for (auto& entry : spec.units) entry.unit.turnaround = turnaround;
      for (const Row& row : rows) {
        CAPTURE(baud);
        CAPTURE(row.kind);
        const auto exchange = row.write ? write_exchange : read_exchange;
        const Exchange computed = exchange(spec.lines[line], turnaround, {}, row.table, row.count);
        const Measured seen = measure(spec, line, row.id, row.pdu);
        CHECK(about(seen.request, computed.request));
        CHECK(about(seen.answer, computed.answer));
        CHECK(about(seen.whole, computed.whole));
        ++compared;
      }
    }
  }
  CHECK(compared == 96);
}
