#include <algorithm>
#include <map>
#include <string>

#include <doctest/doctest.h>

#include "sim/bench/signal.hpp"
#include "sim/io/files/load.hpp"
#include "sim/rehearsal/rehearsal.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;
using namespace std::chrono_literals;

namespace {

const std::string kSource = EMBERLINE_SOURCE_DIR;

std::string shown(const io::Problems& problems) {
  std::string text;
  for (const auto& problem : problems) text += to_text(problem) + "\n";
  return text;
}

template <class Loaded>
auto loaded_or_fail(Loaded loaded) {
  if (!loaded) FAIL(shown(loaded.error()));
  return std::move(loaded).value();
}

/// The worked example of a scenario, with all of its comments.
constexpr const char* kCablePulled = R"(
scenario: Cable pulled at soak, unit latches, operator recovers in the right order
why: A PLC that comes back and writes its old setpoint heats up without anyone deciding to.
bench: BENCH
clock: stepped                   # wall when a real PLC is the master
ends: 60 s
masters:
  plc:                           # a stand-in; leave `masters` out when a real PLC connects
    lines: [field, ethernet]     # a request goes over the first of these that its slave is on
    timeout: 500 ms
    retries: 2
    program:
      - { at: 1 s, write: { marshalling.coil.0: on, marshalling.coil.8: on } }      # closes enable contact and contactor, as the PLC's wiring would
      - { at: 2 s, write: { soak-heater.setpoint: 50 % } }
      - { every: 2 s, read: [soak-heater.load_current_l1, soak-heater.state, soak.measured] }   # block reads by the table; soak.measured comes from the io-block that carries it
      # - { every: 2 s, control: soak-heater.setpoint, from: soak.measured, target: 560 degC, gain: 4 %/K, integral_time: 120 s }
    when_lost: { after: 3 failures, write: nothing }                                 # in a row, of one slave; keeps asking
    when_back: { write: { soak-heater.setpoint: 0 % } }
timeline:
  - { at: 20 s, cut: field }
  - { at: 30 s, restore: field }
  - { at: 35 s, cycle: soak-heater.terminal.enable }                              # open 1 s, then closed; the anchor is the closing edge
expect:
  - { name: heats before the cut, from: 10 s, until: { cut: field }, always: { soak-heater.load_power: { above: 11 kW } } }
  - { name: latches in time, after: { cut: field }, not_before: 900 ms, within: 3.1 s, that: { soak-heater.state: inhibited } }   # the last feed may be a poll period old
  - { name: off until reset, from: { restore: field }, until: { cycle: soak-heater.terminal.enable }, always: { soak-heater.state: inhibited, soak-heater.load_power: { below: 50 W } } }
  - { name: PLC comes back at zero, after: { restore: field }, first_write: { soak-heater.setpoint: { at_most: 0 % } } }
)";

constexpr const char* kFiveRows = R"(
register_table: Short blocks
numbering: zero-based            # or one-based, or reference (4xxxx / 4xxxxx); errors and listings always show both
word_order: high-first           # or low-first; byte_order for the odd ones
holding:
  - { at: 0x0030, point: setpoint,        as: u16, scale: 0.1 %, access: read-write, range: 0..100 % }
  - { at: 0x0040, point: load_current_l1, as: u16, scale: 0.1 A }
  - { at: 0x0041, point: state,           as: u16 }
input: same-as-holding
)";

/// The worked example of a bench.
constexpr const char* kOneUnit = R"(
bench: Annealing lehr, three zones
supply:     { system: three-phase, voltage: 400 V, frequency: 50 Hz, impedance: 8 mohm }   # line to line, RMS
contactors: { main: { feeds: [soak-heater] } }                                             # closed unless wired to a coil, then open until it is written
lines:
  field:    { pty: /tmp/emberline/field, serial: 19200 8E1 }   # a stable link to the pseudo-terminal
  ethernet: { tcp: 127.0.0.1:1502 }
zones:                                                          # optional; a zone may have several heaters
  soak: { mass: 180 kg, specific_heat: 900 J/kgK, loss: 38 W/K, ambient: 25 degC, start: 540 degC, sensor: { lag: 12 s, dead_time: 3 s } }
units:
  soak-heater:
    id: 1
    lines: [field, ethernet]
    registers: ../registers/short-blocks.yaml
    rating:     { voltage: 400 V, current: 63 A }
    firing:     { mode: phase-angle, ramp: 500 ms }
    control:    { variable: power, full_scale: 24 kW }
    limits:     { current: 50 A }
    comms_loss: { lines: [field], timeout: 3 s, policy: latch-to-inhibit, reset_by: [enable-cycle] }
    relays:     { K1: { on: [comms-loss] } }
    intake:     { largest_block: 12, reads_per_second: 5, beyond: exception }
    load:       { connection: star-4-wire, elements: 4 in parallel, material: nickel-chromium, cold_resistance: 22 ohm, heats: soak }   # per element, each leg
io_blocks:
  marshalling:
    id: 20
    lines: [ethernet]
    outputs_off_after: 10 s       # its own watchdog: coils off when nobody asks
    coils:    { 0: soak-heater.terminal.enable, 8: main.closed }
    discrete: { 0: soak-heater.relay.K1 }
    input:    { 0: { signal: soak.measured, as: s16, scale: 0.1 degC } }
)";

bench::BenchSpec one_unit(const test::Workspace& workspace) {
  workspace.write("registers/short-blocks.yaml", kFiveRows);
  return loaded_or_fail(io::load_bench(workspace.write("benches/one.yaml", kOneUnit)));
}

rehearsal::ScenarioSpec cable_pulled(const test::Workspace& workspace) {
  one_unit(workspace);
  const auto text = test::replaced(kCablePulled, "BENCH", "../benches/one.yaml");
  return loaded_or_fail(io::load_scenario(workspace.write("scenarios/cable-pulled.yaml", text)));
}

}  // namespace

TEST_CASE("the worked example of a register table means what it says") {
  const test::Workspace workspace;
  const auto table = loaded_or_fail(io::load_register_table(workspace.write("t.yaml", kFiveRows)));
  CHECK(table->title() == "Short blocks");
  REQUIRE(table->rows().size() == 6);  // three rows, and the same again as input registers
  const auto* setpoint = table->find(registers::Point::setpoint, true);
  REQUIRE(setpoint != nullptr);
  CHECK(setpoint->address == 0x0030);
  CHECK(setpoint->table == modbus::Table::holding_registers);
  CHECK(setpoint->layout.scale == doctest::Approx(0.001));
  CHECK(setpoint->access == registers::Access::read_write);
  REQUIRE(setpoint->range.has_value());
  CHECK(setpoint->range->first == 0.0);
  CHECK(setpoint->range->second == 1.0);
  CHECK(setpoint->place.line == 6);
  CHECK(setpoint->place.column == 5);
  const auto* state = table->find(registers::Point::state);
  REQUIRE(state != nullptr);
  CHECK(state->address == 0x0041);
  CHECK(state->access == registers::Access::read_only);
}

TEST_CASE("the worked example of a bench means what it says") {
  const test::Workspace workspace;
  const auto spec = one_unit(workspace);
  CHECK(spec.title == "Annealing lehr, three zones");
  CHECK(spec.supply.voltage_V == 400.0);
  CHECK(spec.supply.frequency_Hz == 50.0);
  CHECK(spec.supply.resistance_ohm == doctest::Approx(0.008));
  REQUIRE(spec.lines.size() == 2);
  CHECK(spec.lines[0].path == "/tmp/emberline/field");
  CHECK(to_text(spec.lines[0].serial) == "19200 8E1");
  CHECK(spec.lines[1].host == "127.0.0.1");
  CHECK(spec.lines[1].port == 1502);
  CHECK(spec.lines[1].max_connections == 8);
  REQUIRE(spec.units.size() == 1);
  const auto& unit = spec.units[0].unit;
  const auto& load = spec.units[0].load;
  CHECK(unit.rated_current_A == 63.0);
  CHECK(unit.firing.ramp == 500ms);
  CHECK(unit.control.variable == unit::ControlVariable::power);
  CHECK(unit.control.full_scale == 24e3);
  CHECK(unit.limits.current_A == 50.0);
  CHECK(unit.comms_loss.lines == std::vector<std::string>{"field"});
  CHECK(unit.comms_loss.timeout == 3s);
  CHECK(unit.comms_loss.policy == registers::Policy::latch_to_inhibit);
  CHECK(unit.relays.at(0).on_warnings == registers::bit(registers::Warning::comms_loss));
  CHECK(unit.relays.at(0).on_trips == registers::bit(registers::Trip::comms_loss));
  CHECK(unit.intake.largest_block == 12);
  CHECK(unit.intake.beyond == unit::Beyond::exception);
  CHECK(unit.table->find(registers::Point::setpoint) != nullptr);
  CHECK(load.connection == plant::Connection::star_4_wire);
  CHECK(load.elements == 4);
  CHECK(load.grouping == plant::Grouping::parallel);
  CHECK(load.cold_resistance_ohm[0] == 22.0);
  CHECK(load.material == plant::find_material("nickel-chromium"));
  CHECK(load.thyristor_drop_V == 1.2);
  CHECK(spec.units[0].heats == "soak");
  CHECK(spec.units[0].element.heat_capacity_J_per_K == 0.0);
  CHECK(spec.units[0].element.coupling_W_per_K == 0.0);
  CHECK(spec.zones.at(0).parameters.sensor_dead_time == 3s);
  CHECK(spec.contactors.at(0).feeds == std::vector<std::string>{"soak-heater"});
  const auto& block = spec.io_blocks.at(0);
  CHECK(block.outputs_off_after == 10s);
  CHECK(block.coils.at(8) == "main.closed");
  CHECK(block.discrete.at(0) == "soak-heater.relay.K1");
  CHECK(block.input.at(0).layout.type == registers::Type::s16);
  CHECK(block.input.at(0).layout.scale == doctest::Approx(0.1));
}

TEST_CASE("the stand-in of the worked scenario does what it says") {
  const test::Workspace workspace;
  const auto spec = cable_pulled(workspace);
  CHECK(spec.file_stem == "cable-pulled");
  CHECK(spec.clock == rehearsal::Clock::stepped);
  CHECK(spec.ends == SimTime{60s});
  REQUIRE(spec.masters.size() == 1);
  const auto& plc = spec.masters[0];
  CHECK(plc.timeout == 500ms);
  CHECK(plc.retries == 2);
  CHECK(plc.lost_after == 3);
  CHECK(plc.when_lost_writes.empty());
  REQUIRE(plc.when_back_writes.size() == 1);
  CHECK(plc.when_back_writes[0].value == 0.0);
  REQUIRE(plc.program.size() == 3);
  CHECK(plc.program[0].writes.at(1).target.row.address == 8);
  CHECK(plc.program[0].writes.at(1).value == 1.0);
  CHECK(plc.program[1].writes.at(0).value == 0.5);
  CHECK(plc.program[2].every == 2s);
  REQUIRE(plc.program[2].reads.size() == 3);
  CHECK(plc.program[2].reads[2].io_block);
}

TEST_CASE("the timeline and expectations of the worked scenario are what they say") {
  const test::Workspace workspace;
  const auto spec = cable_pulled(workspace);
  REQUIRE(spec.timeline.size() == 3);
  CHECK(spec.timeline[2].action->text() == "cycle soak-heater.terminal.enable");
  REQUIRE(spec.expectations.size() == 4);
  const auto& heats = spec.expectations[0];
  CHECK(heats.kind == rehearsal::Expectation::Kind::always);
  CHECK(heats.from->at == SimTime{10s});
  CHECK(heats.until->action_word == "cut");
  CHECK(heats.conditions.at(0).comparator == rehearsal::Condition::Comparator::above);
  CHECK(heats.conditions.at(0).a == 11e3);
  const auto& latches = spec.expectations[1];
  CHECK(latches.kind == rehearsal::Expectation::Kind::within);
  CHECK(latches.not_before == 900ms);
  CHECK(latches.within == 3100ms);
  CHECK(latches.from->text == "cut field");
  CHECK(latches.conditions.at(0).a == static_cast<double>(registers::State::inhibited));
  CHECK(spec.expectations[2].conditions.size() == 2);
  CHECK(spec.expectations[3].kind == rehearsal::Expectation::Kind::conduct);
}

TEST_CASE("a timeline is carried out in the order of time, then of the file") {
  const test::Workspace workspace;
  const auto text = test::replaced(kCablePulled, "BENCH", "../benches/one.yaml");
  one_unit(workspace);
  workspace.write("s/s.yaml", test::replaced(text, "  - { at: 20 s, cut: field }\n",
                                             "  - { at: 30 s, cut: ethernet }\n  - { at: 20 s, cut: field }\n"
                                             "  - { at: 20 s, power_off: soak-heater }\n"));
  const auto spec = loaded_or_fail(io::load_scenario(workspace.path("s/s.yaml")));
  rehearsal::Rehearsal rehearsal(spec, 1, {});
  rehearsal.loop().run_through(spec.ends);
  std::string order;
  for (const auto& mark : rehearsal.verdict(0).marks) order += mark.text + "; ";
  CHECK(order ==
        "cut field; power_off soak-heater; cut ethernet; restore field; cycle soak-heater.terminal.enable; ");
}

TEST_CASE("the shipped bench loads, and shows three units of different character") {
  const auto spec = loaded_or_fail(io::load_bench(kSource + "/config/benches/annealing-lehr.yaml"));
  REQUIRE(spec.units.size() == 3);
  CHECK(spec.find_unit("soak-heater").has_value());
  std::map<registers::Policy, int> policies;
  for (const auto& entry : spec.units) ++policies[entry.unit.comms_loss.policy];
  CHECK(policies.size() == 3);
}

TEST_CASE("every group of the shipped short-block table fits one read of 12 registers") {
  const auto table = loaded_or_fail(io::load_register_table(kSource + "/config/registers/short-blocks.yaml"));
  CHECK(table->find(registers::Point::setpoint)->address == 0x0030);
  CHECK(table->find(registers::Point::load_current_l1)->address == 0x0040);
  CHECK(table->find(registers::Point::state)->address == 0x0041);
  int first = -1;
  int next = -1;
  int groups = 0;
  for (const auto& row : table->rows()) {
    if (row.table != modbus::Table::holding_registers) continue;
    if (row.address != next) {
      first = row.address;
      ++groups;
    }
    next = row.address + registers::register_count(row.layout);
    CHECK(next - first <= 12);
  }
  CHECK(groups == 3);
}

TEST_CASE("the shipped float table differs from the other in every way a map can differ") {
  const auto table = loaded_or_fail(io::load_register_table(kSource + "/config/registers/float-pairs.yaml"));
  const auto* setpoint = table->find(registers::Point::setpoint, true);
  REQUIRE(setpoint != nullptr);
  CHECK(setpoint->address == 2500);  // 42501 counts from 1
  CHECK(setpoint->layout.type == registers::Type::f32);
  CHECK(setpoint->layout.word_order == registers::WordOrder::low_first);
  CHECK(setpoint->out_of_range == registers::OutOfRange::clamp);
  CHECK(setpoint->split_refused);
  CHECK(table->gaps() == registers::Gaps::zero);
  const auto* reset = table->find(registers::Point::reset, true);
  REQUIRE(reset != nullptr);
  CHECK(reset->table == modbus::Table::coils);
  CHECK(reset->address == 16);
  const auto* warnings = table->find(registers::Point::warnings);
  REQUIRE(warnings != nullptr);
}
