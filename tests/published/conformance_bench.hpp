#pragma once

#include <string>
#include <string_view>
#include <utility>

#include <doctest/doctest.h>

#include "sim/bench/bench.hpp"
#include "sim/bench/line_session.hpp"
#include "sim/modbus/crc.hpp"
#include "tests/sim/modbus/hex.hpp"
#include "tests/support/heated_bench.hpp"

namespace emberline::test {

inline constexpr std::size_t kField = 0;     ///< serial line
inline constexpr std::size_t kEthernet = 1;  ///< TCP line
inline constexpr std::uint8_t kUnit = 1;     ///< on both lines
inline constexpr std::uint8_t kBlock = 20;   ///< io-block, on both lines

/// As the device of the standard's section 7: addresses 0 to 99 of all four tables, and no others.
inline std::shared_ptr<const registers::RegisterTable> hundred_addresses() {
  using registers::Access;
  using registers::Point;
  registers::TableParts parts;
  parts.title = "Addresses 0 to 99";
  for (std::uint16_t address = 0; address < 100; ++address) {
    parts.rows.push_back(testing::row(address, Point::heartbeat, 1, Access::read_write));
    auto input = testing::row(address, Point::trips, 1);
    input.table = modbus::Table::input_registers;
    parts.rows.push_back(input);
    auto coil = testing::row(address, Point::setpoint_source, 1, Access::read_write);
    coil.table = modbus::Table::coils;
    coil.layout.type = registers::Type::bit;
    parts.rows.push_back(coil);
    auto discrete = testing::row(address, Point::reset, 1);
    discrete.table = modbus::Table::discrete_inputs;
    discrete.layout.type = registers::Type::bit;
    parts.rows.push_back(discrete);
  }
  auto table = registers::make_register_table(std::move(parts));
  REQUIRE(table.has_value());
  return *table;
}

/// The heated bench with that unit and an io-block of coils 0 and 8, on a serial and a TCP line.
inline bench::BenchSpec conformance_spec() {
  auto spec = testing::wired_bench();
  spec.units[0].unit.table = hundred_addresses();
  spec.units[0].unit.comms_loss.timeout = std::chrono::seconds{3};
  spec.io_blocks[0].lines = {"field", "ethernet"};
  return spec;
}

/// A master's side of that bench, PDUs as the standards print them. All at one instant, which `now` is.
struct Conformance {
  explicit Conformance(bench::BenchSpec spec = conformance_spec()) : bench(std::move(spec)) {}

  /// The answer's PDU; "" is silence.
  std::string ask(std::uint8_t id, std::string_view pdu, std::size_t line = kField) {
    if (line == kField) bench.heard(kField, modbus::Heard::good_frame);
    const auto reply = bench.request(line, id, hex(pdu), now, "plc").pdu;
    return reply ? to_hex(*reply) : "";
  }
  [[nodiscard]] double heartbeat() const { return bench.unit(0).value(registers::Point::heartbeat, now); }

  bench::Bench bench;
  SimTime now = SimTime{} + std::chrono::seconds{1};
};

}  // namespace emberline::test
