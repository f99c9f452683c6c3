#pragma once

#include <chrono>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "sim/bench/bench_spec.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::testing {

/// A row of a register table, for tests that need an address rather than a file.
inline registers::Row row(std::uint16_t address, registers::Point point, double scale,
                          registers::Access access = registers::Access::read_only) {
  registers::Row made;
  made.address = address;
  made.point = point;
  made.layout.scale = scale;
  made.access = access;
  return made;
}

inline std::shared_ptr<const registers::RegisterTable> test_table() {
  using registers::Access;
  using registers::Point;
  registers::TableParts parts;
  parts.title = "Test table";
  parts.rows = {row(0, Point::setpoint, 0.001, Access::read_write),
                row(1, Point::state, 1),
                row(2, Point::load_power, 10),
                row(3, Point::load_current_l1, 0.1),
                row(4, Point::load_voltage_l1, 0.1),
                row(5, Point::reset, 1, Access::read_write),
                row(6, Point::warnings, 1)};
  parts.rows[0].range = {{0.0, 1.0}};
  return std::move(registers::make_register_table(std::move(parts))).value();
}

/// One unit on a three-phase star of 22 ohm elements, four in parallel (28.8 kW at 398 V across the
/// terminals), heating one zone; a contactor, a pseudo-terminal, a TCP line and an io-block that carries the
/// enable wire and the contactor's coil. Source without impedance, thyristors without drop, so that textbook
/// figures hold exactly.
inline bench::BenchSpec heated_bench() {
  bench::BenchSpec spec;
  spec.title = "Test bench";
  spec.supply.voltage_V = 400.0;
  spec.lines.push_back({});
  spec.lines[0].name = "field";
  spec.lines.push_back({});
  spec.lines[1].name = "ethernet";
  spec.lines[1].kind = bench::LineKind::tcp;
  spec.lines[1].host = "127.0.0.1";
  spec.contactors.push_back({"main", {"heater"}});
  bench::ZoneSpec zone;
  zone.name = "oven";
  zone.parameters.mass_kg = 20;
  zone.parameters.specific_heat_J_per_kgK = 500;
  zone.parameters.loss_W_per_K = 25;
  zone.parameters.ambient_degC = 25;
  zone.parameters.start_degC = 25;
  spec.zones.push_back(zone);
  bench::UnitEntry entry;
  entry.unit.name = "heater";
  entry.unit.id = 1;
  entry.unit.lines = {"field", "ethernet"};
  entry.unit.table = test_table();
  entry.unit.rated_voltage_V = 400;
  entry.unit.rated_current_A = 63;
  entry.unit.firing.ramp = std::chrono::milliseconds{500};
  entry.unit.control.variable = unit::ControlVariable::power;
  entry.unit.control.full_scale = 24000;
  entry.unit.comms_loss.lines = {"field"};
  entry.unit.comms_loss.timeout = std::chrono::seconds{3};
  entry.unit.comms_loss.policy = registers::Policy::latch_to_inhibit;
  entry.load.connection = plant::Connection::star_4_wire;
  entry.load.elements = 4;
  entry.load.material = plant::find_material("constant");
  entry.load.cold_resistance_ohm = {22, 22, 22};
  entry.load.thyristor_drop_V = 0;
  entry.heats = "oven";
  spec.units.push_back(entry);
  return spec;
}

/// The same with an io-block on TCP whose coils 0 and 8 drive the enable terminal and the contactor.
inline bench::BenchSpec wired_bench() {
  auto spec = heated_bench();
  bench::IoBlockSpec block;
  block.name = "marshalling";
  block.id = 20;
  block.lines = {"ethernet"};
  block.coils = {{0, "heater.terminal.enable"}, {8, "main.closed"}};
  block.discrete = {{0, "main.closed"}};
  registers::Layout tenths;
  tenths.type = registers::Type::s16;
  tenths.scale = 0.1;
  block.input = {{0, {"oven.measured", tenths}}};
  block.outputs_off_after = std::chrono::seconds{10};
  spec.io_blocks.push_back(block);
  return spec;
}

}  // namespace emberline::testing
