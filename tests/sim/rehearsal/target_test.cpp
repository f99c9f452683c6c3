#include "sim/rehearsal/target.hpp"

#include <doctest/doctest.h>

using namespace emberline;
using modbus::Table;
using registers::Point;

namespace {

registers::Row row_at(Point point, std::uint16_t address, registers::Access access) {
  registers::Row made;
  made.point = point;
  made.address = address;
  made.access = access;
  return made;
}

/// A heater with a small table, a zone, a contactor, and two io-blocks that carry some of it.
bench::BenchSpec sample() {
  using registers::Access;
  bench::BenchSpec spec;
  for (const char* name : {"field", "ethernet"}) {
    bench::LineSpec line;
    line.name = name;
    spec.lines.push_back(line);
  }
  registers::TableParts parts;
  parts.title = "Small";
  parts.rows = {
      row_at(Point::state, 0x10, Access::read_only), row_at(Point::setpoint, 0x20, Access::read_only),
      row_at(Point::setpoint, 0x30, Access::read_write), row_at(Point::reset, 0x31, Access::write_only)};
  registers::Row code = row_at(Point::setpoint, 0x50, Access::read_only);
  code.layout.type = registers::Type::text;
  code.layout.text_registers = 8;
  code.text = registers::TextPoint::product_code;
  parts.rows.push_back(code);
  bench::UnitEntry heater;
  heater.unit.name = "heater";
  heater.unit.id = 7;
  heater.unit.lines = {"field"};
  heater.unit.table = registers::make_register_table(parts).value();
  heater.unit.intake.largest_block = 12;
  heater.unit.relays.push_back({.name = "K1"});
  spec.units.push_back(heater);
  spec.zones.push_back({"soak", {}});
  spec.contactors.push_back({"main", {"heater"}});
  bench::IoBlockSpec first;
  first.name = "first";
  first.id = 20;
  first.lines = {"ethernet"};
  first.coils = {{3, "heater.terminal.enable"}};
  first.input[5] = {"heater.load_power", {.type = registers::Type::u32, .scale = 10.0}};
  spec.io_blocks.push_back(first);
  bench::IoBlockSpec second;
  second.name = "second";
  second.id = 21;
  second.lines = {"ethernet", "field"};
  second.discrete = {{9, "heater.relay.K1"}, {1, "main.closed"}};
  second.input[0] = {"soak.measured", {.type = registers::Type::s16, .scale = 0.1}};
  second.input[4] = {"heater.load_power", {.type = registers::Type::u16, .scale = 100.0}};
  spec.io_blocks.push_back(second);
  return spec;
}

rehearsal::Target found(std::string_view name, bool for_writing = false) {
  auto target = rehearsal::resolve_target(sample(), name, for_writing);
  if (!target) FAIL(target.error());
  return std::move(target).value();
}

std::string why_not(std::string_view name, bool for_writing = false) {
  const auto target = rehearsal::resolve_target(sample(), name, for_writing);
  return target ? "it was found" : target.error();
}

}  // namespace

TEST_CASE("a point of a unit is read where its register table has it first, and written where it may be") {
  const auto state = found("heater.state");
  CHECK_FALSE(state.io_block);
  CHECK(state.slave == 0);
  CHECK(state.id == 7);
  CHECK(state.lines == std::vector<std::string>{"field"});
  CHECK(state.row.table == Table::holding_registers);
  CHECK(state.row.address == 0x10);
  CHECK(state.largest_block == 12);
  CHECK(state.info.values.size() == 8);
  CHECK(found("heater.setpoint").row.address == 0x20);
  CHECK(found("heater.setpoint", true).row.address == 0x30);
  CHECK(found("heater.setpoint", true).info.dimension == Dimension::ratio);
  CHECK(found("heater.reset", true).row.address == 0x31);
}

TEST_CASE("a signal of the plant is read from the first io-block that carries it, discrete inputs first") {
  const auto measured = found("soak.measured");
  CHECK(measured.io_block);
  CHECK(measured.slave == 1);
  CHECK(measured.id == 21);
  CHECK(measured.row.table == Table::input_registers);
  CHECK(measured.row.address == 0);
  CHECK(measured.row.layout.type == registers::Type::s16);
  CHECK(measured.largest_block == 0);
  CHECK(measured.info.dimension == Dimension::temperature);
  const auto relay = found("heater.relay.K1");
  CHECK(relay.row.table == Table::discrete_inputs);
  CHECK(relay.row.address == 9);
  CHECK(relay.row.layout.type == registers::Type::bit);
  CHECK(found("main.closed").row.address == 1);
}

TEST_CASE("a point that the register table lacks is read from an io-block that carries it") {
  const auto power = found("heater.load_power");
  CHECK(power.io_block);
  CHECK(power.id == 20);
  CHECK(power.row.address == 5);
  CHECK(power.row.layout.scale == 10.0);
}

TEST_CASE("values of io-blocks are found by their own names") {
  const auto coil = found("first.coil.3", true);
  CHECK(coil.row.table == Table::coils);
  CHECK(coil.row.address == 3);
  CHECK(coil.row.access == registers::Access::read_write);
  CHECK(coil.lines == std::vector<std::string>{"ethernet"});
  CHECK(found("first.coil.3").row.table == Table::coils);
  CHECK(found("second.discrete.9").row.table == Table::discrete_inputs);
  const auto input = found("second.input.4");
  CHECK(input.row.layout.scale == 100.0);
  CHECK(input.info.dimension == Dimension::power);
}

TEST_CASE("a value that a master cannot reach is told with the reason") {
  CHECK(why_not("heater.setpiont") == "unknown signal 'heater.setpiont', did you mean 'heater.setpoint'?");
  CHECK(why_not("heatr.setpoint") == "unknown signal 'heatr.setpoint', did you mean 'heater.setpoint'?");
  CHECK(why_not("kiln.setpoint") ==
        "unknown signal 'kiln.setpoint': the bench has no 'kiln', it has: heater, supply, main, soak, first, "
        "second, field, ethernet");
  CHECK(why_not("soak.humidity") == "unknown signal 'soak.humidity'; 'soak' has: temperature, measured");
  CHECK(why_not("soak") == "unknown signal 'soak'; 'soak' has: temperature, measured");
  CHECK(why_not("soak.heatsink_temperature").starts_with("unknown signal"));
  CHECK(why_not("heater.output") == "'heater.output' is not in the register table 'Small'");
  CHECK(why_not("heater.load_power", true) == "'heater.load_power' is not in the register table 'Small'");
  CHECK(why_not("heater.state", true) == "'heater.state' is read-only in the register table 'Small'");
  CHECK(why_not("heater.reset") == "'heater.reset' is write-only in the register table 'Small'");
  CHECK(why_not("second.input.4", true) == "'second.input.4' is an input and cannot be written by a master");
  CHECK(why_not("heater.terminal.enable", true) ==
        "'heater.terminal.enable' is not written itself: write the coil that drives it, 'first.coil.3'");
  CHECK(why_not("soak.temperature", true) == "'soak.temperature' cannot be written by a master");
  CHECK(why_not("soak.temperature") ==
        "'soak.temperature' is not carried by any io-block, so no master can read it");
}

TEST_CASE("a text is found for who shows it, and refused to a program, which has no use for it") {
  const auto text_of = [](std::string_view name, bool for_writing) {
    const auto found = rehearsal::resolve_text(sample(), name, for_writing);
    if (!found) return std::string("no text");
    return *found ? std::to_string((*found)->row.address) : found->error();
  };
  CHECK(text_of("heater.product_code", false) == "80");
  CHECK(text_of("heater.product_code", true) ==
        "'heater.product_code' is text and cannot be written by a master");
  CHECK(text_of("heater.vendor_name", false) == "'heater.vendor_name' is not in the register table 'Small'");
  CHECK(text_of("heater.state", false) == "no text");
  CHECK(text_of("cooler.product_code", false) == "no text");
  CHECK(why_not("heater.product_code") == "'heater.product_code' is text, which holds no value to go by");
}
