#include "tests/bench/small_bench.hpp"

#include <array>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <memory>
#include <utility>

#include "sim/registers/register_table.hpp"

namespace emberline::speed {
namespace {

using registers::Point;
using std::chrono::milliseconds;
using std::chrono::seconds;

std::shared_ptr<const registers::RegisterTable> table() {
  struct Carried {
    Point point;
    double scale;
  };
  constexpr std::array<Carried, kRegisters> kCarried{{{Point::setpoint, 0.001},
                                                      {Point::output, 0.001},
                                                      {Point::load_current_l1, 0.1},
                                                      {Point::load_current_l2, 0.1},
                                                      {Point::load_current_l3, 0.1},
                                                      {Point::load_voltage, 0.1},
                                                      {Point::load_power, 10.0},
                                                      {Point::supply_voltage, 0.1},
                                                      {Point::state, 1.0},
                                                      {Point::warnings, 1.0}}};
  registers::TableParts parts;
  parts.title = "Ten registers";
  std::uint16_t address = 0;
  for (const auto& carried : kCarried) {
    registers::Row row;
    row.address = address++;
    row.point = carried.point;
    row.layout.scale = carried.scale;
    if (carried.point == Point::setpoint) {
      row.access = registers::Access::read_write;
      row.range = {0.0, 1.0};
    }
    parts.rows.push_back(row);
  }
  auto made = registers::make_register_table(std::move(parts));
  if (!made) {
    for (const auto& problem : made.error()) std::fprintf(stderr, "%s\n", to_text(problem).c_str());
    std::exit(1);
  }
  return *made;
}

}  // namespace

bench::BenchSpec small_bench(unit::FiringMode firing) {
  bench::LineSpec line;
  line.name = kLine;
  line.kind = bench::LineKind::tcp;
  line.host = "127.0.0.1";
  line.max_connections = 16;

  bench::ZoneSpec zone;
  zone.name = "soak";
  zone.parameters.mass_kg = 180;
  zone.parameters.loss_W_per_K = 38;
  zone.parameters.ambient_degC = 25;
  zone.parameters.start_degC = 25;
  zone.parameters.sensor_lag = seconds{12};

  bench::UnitEntry entry;
  entry.unit.name = kUnit;
  entry.unit.id = kUnitId;
  entry.unit.lines = {kLine};
  entry.unit.table = table();
  entry.unit.rated_voltage_V = 400;
  entry.unit.rated_current_A = 63;
  entry.unit.firing.mode = firing;
  entry.unit.firing.ramp = milliseconds{500};
  entry.unit.control.variable = unit::ControlVariable::power;
  entry.unit.control.full_scale = 24e3;
  entry.unit.comms_loss.lines = {kLine};
  entry.load.connection = plant::Connection::star_4_wire;
  entry.load.elements = 4;
  entry.load.grouping = plant::Grouping::parallel;
  entry.load.material = plant::find_material("nickel-chromium");
  entry.load.cold_resistance_ohm = {22, 22, 22};
  entry.heats = zone.name;

  bench::BenchSpec spec;
  spec.title = "One unit, one zone";
  spec.supply.resistance_ohm = 0.008;
  spec.lines.push_back(line);
  spec.zones.push_back(zone);
  spec.units.push_back(entry);
  return spec;
}

}  // namespace emberline::speed
