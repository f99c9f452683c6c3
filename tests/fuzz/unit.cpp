// Requests, time, terminals and power to a whole virtual unit with a register table. An input is steps: a
// byte with their kind, a byte with length or amount, and for requests the PDU.
#include <array>
#include <cmath>

#include "sim/modbus/diagnostics.hpp"
#include "sim/unit/virtual_unit.hpp"
#include "tests/fuzz/fuzz.hpp"
#include "tests/sim/unit/rig.hpp"

using namespace emberline;
using fuzz::must;
using registers::Point;

namespace {

/// Registers of every shape: words, floats in two orders, one bit, coils, clamped and ignored values.
std::shared_ptr<const registers::RegisterTable> varied_table() {
  using modbus::Table;
  using registers::Access;
  registers::TableParts parts;
  parts.title = "varied";
  parts.gaps = registers::Gaps::zero;
  const auto add = [&](Table table, std::uint16_t address, Point point, registers::Layout layout,
                       Access access) {
    registers::Row row;
    row.table = table;
    row.address = address;
    row.point = point;
    row.layout = layout;
    row.access = access;
    parts.rows.push_back(row);
    return &parts.rows.back();
  };
  using registers::Type;
  const auto holding = Table::holding_registers;
  add(holding, 0, Point::setpoint, {.type = Type::u16, .scale = 0.001}, Access::read_write)->range = {0.0,
                                                                                                      1.0};
  auto* clamped = add(holding, 1, Point::setpoint, {.type = Type::f32, .scale = 0.01}, Access::read_write);
  clamped->out_of_range = registers::OutOfRange::clamp;
  clamped->split_refused = true;
  add(holding, 3, Point::setpoint_source, {.type = Type::u16}, Access::read_write);
  add(holding, 4, Point::comms_timeout, {.type = Type::u32, .scale = 0.1}, Access::read_write)->out_of_range =
      registers::OutOfRange::ignore;
  auto* policy = add(holding, 6, Point::comms_policy, {.type = Type::u16}, Access::read_write);
  policy->values = {{0, 7}, {1, 8}, {2, 9}};
  policy->kept = true;
  add(holding, 7, Point::heartbeat, {.type = Type::u16}, Access::read_write);
  add(holding, 8, Point::reset, {.type = Type::u16}, Access::write_only);
  add(holding, 12, Point::energy, {.type = Type::u32, .scale = 3.6e6}, Access::read_only);
  add(Table::input_registers, 0, Point::state, {.type = Type::u16}, Access::read_only);
  add(Table::input_registers, 1, Point::comms_age, {.type = Type::f32}, Access::read_only);
  add(Table::coils, 5, Point::reset, {.type = Type::bit}, Access::read_write);
  add(Table::discrete_inputs, 2, Point::trips, {.type = Type::bit}, Access::read_only);
  auto table = registers::make_register_table(std::move(parts));
  must(table.has_value(), "the table of this fuzzer is sound");
  return std::move(table).value();
}

unit::UnitSpec spec() {
  auto spec = unit::base_spec();
  static const auto table = varied_table();
  spec.table = table;
  spec.intake.reads_per_second = 20;
  spec.intake.largest_block = 64;
  spec.intake.beyond = unit::Beyond::exception;
  return spec;
}

using Settings = std::array<double, 6>;
Settings settings_of(const unit::VirtualUnit& unit, SimTime now) {
  return {unit.value(Point::setpoint, now),      unit.value(Point::setpoint_source, now),
          unit.value(Point::comms_timeout, now), unit.value(Point::comms_policy, now),
          unit.value(Point::heartbeat, now),     unit.value(Point::reset, now)};
}

/// A unit, its port on the serial line, and the time.
struct Bench {
  unit::UnitSpec told = spec();
  unit::Notes notes;
  unit::Writes writes;
  unit::VirtualUnit unit{told, notes, writes};
  modbus::Diagnostics port;
  SimTime now{};

  void request(modbus::ByteView pdu, bool serial, bool broadcast) {
    if (pdu.empty() || pdu.size() > modbus::kPduMax) return;  // no framer gives these
    const auto before = settings_of(unit, now);
    const auto arrival = modbus::Arrival{now, serial ? "field" : "ethernet", "plc", serial && broadcast,
                                         serial ? &port : nullptr};
    if (serial) port.heard(modbus::Heard::good_frame);
    const auto answer = unit.take_up(pdu, arrival);
    must(!answer || !arrival.broadcast, "a broadcast is never answered");
    if (!answer) return;
    fuzz::must_be_sound(pdu, *answer);
    if (modbus::refusal_of(*answer) || !modbus::may_change_memory(pdu[0]))
      must(settings_of(unit, now) == before, "what is refused or only reads changes no setting");
  }
  void wait(unsigned amount) {
    now += std::chrono::milliseconds{25} * amount;
    unit.run_timers(now);
    unit.advance(now, unit::kFull);
    must(!unit.next_timer() || *unit.next_timer() > now, "no timer that is due is left");
  }
  void check() const {
    const auto drive = unit.drive();
    must(std::isfinite(drive.output) && drive.output >= 0.0 && drive.output <= 1.0,
         "the output is 0 to 100 %");
    const double setpoint = unit.value(Point::setpoint, now);
    must(setpoint >= 0.0 && setpoint <= 1.0, "the setpoint is 0 to 100 %");
    const bool off = unit.state() != registers::State::running && unit.state() != registers::State::holding &&
                     unit.state() != registers::State::preset;
    must(!off || drive.output == 0.0, "a unit that is not running drives nothing");
  }
};

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  fuzz::Input input(data, size);
  Bench bench;
  bench.unit.advance(bench.now, unit::kFull);
  while (!input.empty()) {
    const unsigned kind = input.byte() % 8U;
    const unsigned amount = input.byte();
    if (kind < 4)
      bench.request(input.bytes(amount), (kind & 2U) == 0, (kind & 1U) != 0);
    else if (kind == 4)
      bench.wait(amount);
    else if (kind == 5)
      bench.unit.set_terminal((amount & 2U) != 0 ? unit::Terminal::enable : unit::Terminal::reset,
                              (amount & 1U) != 0, bench.now);
    else if (kind == 6)
      bench.unit.set_powered((amount & 1U) != 0, bench.now);
    else
      bench.port.heard((amount & 1U) != 0 ? modbus::Heard::overrun : modbus::Heard::comm_error);
    bench.check();
  }
  return 0;
}
