#include <algorithm>
#include <array>

#include <doctest/doctest.h>

#include "sim/bench/bench.hpp"
#include "sim/modbus/pdu.hpp"
#include "tests/sim/modbus/hex.hpp"
#include "tests/sim/modbus/random_pdu.hpp"
#include "tests/support/heated_bench.hpp"

using namespace emberline;
using namespace std::chrono_literals;
using registers::Point;

namespace {

/// Everything that a master can change on the bench below.
std::array<double, 5> changeable(const bench::Bench& bench, SimTime now) {
  const auto value = [&](const char* name) {
    return bench.value(*bench::find_signal(bench.spec(), name), now);
  };
  return {value("heater.setpoint"), value("heater.setpoint_source"), value("heater.heartbeat"),
          value("marshalling.coil.0"), value("marshalling.coil.8")};
}

}  // namespace

TEST_CASE("100,000 random PDUs to units, io-blocks and all at once change nothing where refused") {
  auto spec = testing::wired_bench();
  registers::TableParts parts;
  for (std::uint16_t address = 0; address < 100; ++address) {
    if (address < 80)  // any word is a value of these
      parts.rows.push_back(
          address % 2 == 0
              ? testing::row(address, Point::setpoint, 1.0 / 65535, registers::Access::read_write)
              : testing::row(address, Point::heartbeat, 1, registers::Access::read_write));
    else
      parts.rows.push_back(testing::row(address, Point::load_power, 1));
    auto coil = testing::row(address, Point::setpoint_source, 1, registers::Access::read_write);
    coil.table = modbus::Table::coils;
    coil.layout.type = registers::Type::bit;
    parts.rows.push_back(coil);
    auto discrete = coil;
    discrete.table = modbus::Table::discrete_inputs;
    discrete.access = registers::Access::read_only;
    parts.rows.push_back(discrete);
  }
  parts.input_same_as_holding = true;
  auto table = registers::make_register_table(std::move(parts));
  REQUIRE(table.has_value());
  spec.units[0].unit.table = *table;
  spec.io_blocks[0].lines = {"field", "ethernet"};
  bench::Bench bench(std::move(spec));

  test::RandomPdus pdus(71);
  std::array<int, 256> normal{};
  int silent = 0;
  SimTime now{};
  for (int i = 0; i < 100'000; ++i) {
    const auto pdu = pdus.next();
    CAPTURE(i);
    CAPTURE(test::to_hex(pdu));
    now += 1ms;
    if (i % 100 == 99) {  // out of listen-only mode, which no answer tells of
      bench.set_unit_powered(0, false, now);
      bench.set_unit_powered(0, true, now);
      now += 2s;
      (void)bench.request(0, 20, test::hex("08 00 01 00 00"), now, "plc");
    }
    const std::uint8_t ids[] = {1, 20, 0, 1, 20, 99};
    const auto id = ids[i % 6];
    const std::size_t line = i % 5 == 0 ? 1 : 0;
    const auto before = changeable(bench, now);
    if (line == 0) bench.heard(0, modbus::Heard::good_frame);
    const auto reply = bench.request(line, id, pdu, now, "plc").pdu;
    if (!reply) {
      ++silent;
      if (id == 0 && line == 0 && modbus::may_be_broadcast(pdu[0])) continue;  // may have been carried out
    } else if (modbus::refusal_of(*reply)) {
      REQUIRE((*reply)[0] == (pdu[0] | 0x80u));
      REQUIRE((*reply)[1] <= 4);
    } else {
      REQUIRE((*reply)[0] == pdu[0]);
      const auto length = modbus::implied_answer_length(*reply);
      REQUIRE(length.value_or(pdu.size()) == reply->size());
      ++normal[pdu[0]];
      if (modbus::may_change_memory(pdu[0])) continue;
    }
    REQUIRE(changeable(bench, now) == before);
  }
  for (const auto code :
       {0x01, 0x02, 0x03, 0x04, 0x05, 0x06, 0x07, 0x08, 0x0B, 0x0C, 0x0F, 0x10, 0x11, 0x16, 0x17, 0x2B}) {
    CAPTURE(code);
    CHECK(normal[static_cast<std::size_t>(code)] > 100);
  }
  CHECK(silent > 1000);
}
