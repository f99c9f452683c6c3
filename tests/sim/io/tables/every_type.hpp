#pragma once

#include <memory>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/registers/register_table.hpp"

namespace emberline::test {

/// A table with a row of every type, coding and order, invented for tests. Its title has what other formats
/// take for marks of their own.
inline registers::TableParts every_type_parts() {
  using namespace registers;
  using modbus::Table;
  constexpr auto kLow = WordOrder::low_first;
  constexpr auto kLowByte = ByteOrder::low_first;
  constexpr auto kDigits = Coding::bcd;
  constexpr auto kSign = Coding::sign_magnitude;
  TableParts parts;
  parts.title = "Every <type> | *all* (* of them *)";
  const auto add = [&parts](Table table, std::uint16_t address, Point point, const Layout& layout) -> Row& {
    Row row;
    row.table = table;
    row.address = address;
    row.point = point;
    row.layout = layout;
    return parts.rows.emplace_back(row);
  };
  const auto set = [&add](std::uint16_t address, Point point, const Layout& layout) -> Row& {
    Row& row = add(Table::holding_registers, address, point, layout);
    row.access = Access::read_write;
    return row;
  };
  set(0x00, Point::setpoint, {.type = Type::u16, .scale = 0.001}).range = {0.0, 1.0};
  set(0x01, Point::heatsink_warm_threshold, {.type = Type::s16, .scale = 0.1}).kept = true;
  set(0x02, Point::heatsink_over_temperature_threshold, {.type = Type::s16, .scale = 0.5, .coding = kSign});
  set(0x03, Point::over_current_threshold, {.type = Type::u16, .scale = 0.01, .coding = kDigits});
  set(0x04, Point::power_limit, {.type = Type::u32}).split_refused = true;
  set(0x06, Point::current_limit, {.type = Type::u32, .scale = 0.001, .word_order = kLow});
  set(0x08, Point::load_open_threshold, {.type = Type::s32, .scale = 1e-5, .byte_order = kLowByte});
  set(0x0A, Point::voltage_limit, {.type = Type::s32, .scale = 0.01, .word_order = kLow, .coding = kSign});
  set(0x0C, Point::comms_timeout, {.type = Type::u32, .scale = 0.001, .coding = kDigits}).range = {0.0,
                                                                                                   600.0};
  set(0x0E, Point::over_current_delay, {.type = Type::u64, .scale = 1e-6});
  set(0x12, Point::overload_delay,
      {.type = Type::u64, .scale = 0.001, .word_order = kLow, .byte_order = kLowByte, .coding = kDigits});
  set(0x16, Point::supply_low_threshold, {.type = Type::f32, .scale = 0.01});
  set(0x18, Point::phase_lost_delay,
      {.type = Type::f32, .scale = 0.001, .word_order = kLow, .byte_order = kLowByte, .broken = -9999.0});
  set(0x1A, Point::heartbeat, {.type = Type::bits, .mask = 0x03F0});
  set(0x1A, Point::reset, {.type = Type::bit});
  set(0x1A, Point::learn_load, {.type = Type::bit}).bit_position = 15;
  set(0x1B, Point::comms_policy, {.type = Type::u16}).values = {{0, 10}, {1, 20}, {2, 30}};
  set(0x1C, Point::setpoint_source, {.type = Type::f32}).values = {{1, 7}};
  set(0x1E, Point::heartbeat, {.type = Type::s16, .byte_order = kLowByte});
  set(0x20, Point::heartbeat, {.type = Type::u64, .word_order = kLow});
  set(0x24, Point::heartbeat, {.type = Type::u16, .coding = kDigits});
  set(0x25, Point::supply_low_delay,
      {.type = Type::bits, .scale = 0.5, .byte_order = kLowByte, .mask = 0x7F00});
  set(0x26, Point::phase_lost_threshold, {.type = Type::u16, .scale = 0.01, .broken = 65000.0});

  const auto read = [&add](std::uint16_t address, Point point, const Layout& layout) -> Row& {
    return add(Table::input_registers, address, point, layout);
  };
  read(0x100, Point::state, {.type = Type::u16, .byte_order = kLowByte}).values = {{3, 10}, {6, 66}};
  read(0x101, Point::warnings, {.type = Type::u16});
  read(0x102, Point::trips, {.type = Type::u32, .word_order = kLow}).flags = {{0, 31}, {3, 1}, {5, 16}};
  read(0x104, Point::load_power, {.type = Type::s16, .scale = 10.0, .broken = -32768.0});
  read(0x105, Point::element_temperature, {.type = Type::s32, .word_order = kLow});
  read(0x107, Point::energy, {.type = Type::u64, .scale = 3.6e3});
  read(0x10B, Point::power_factor, {.type = Type::s16, .scale = -0.001});
  Row& bit = read(0x10C, Point::trips, {.type = Type::bit, .byte_order = kLowByte});
  bit.bit_position = 9;
  bit.flag = 3;
  read(0x10D, Point::setpoint, {.type = Type::text, .text_registers = 4}).text = TextPoint::product_code;
  read(0x111, Point::setpoint, {.type = Type::u32}).fixed = 4711.0;
  read(0x113, Point::setpoint, {.type = Type::text, .byte_order = kLowByte, .text_registers = 3}).fixed_text =
      "EL,24";
  read(0x116, Point::heatsink_temperature,
       {.type = Type::bits, .byte_order = kLowByte, .mask = 0x00FF, .broken = 255.0});
  Row& coil = add(Table::coils, 0x10, Point::reset, {.type = Type::bit});
  coil.access = Access::read_write;
  add(Table::discrete_inputs, 0x20, Point::warnings, {.type = Type::bit}).flag = 8;
  return parts;
}

inline std::shared_ptr<const registers::RegisterTable> every_type() {
  auto table = registers::make_register_table(every_type_parts());
  if (!table) {
    for (const auto& problem : table.error()) MESSAGE(problem.message);
  }
  REQUIRE(table.has_value());
  return std::move(table).value();
}

}  // namespace emberline::test
