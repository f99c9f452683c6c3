#include <cstdint>
#include <map>
#include <string>

#include <doctest/doctest.h>

#include "sim/bench/signal.hpp"
#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;
using namespace std::chrono_literals;

// Keys that the sample files leave out have to arrive where they belong.

namespace {

bench::BenchSpec load_with(const std::string& from, const std::string& to) {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::replaced(test::kTable, "input: same-as-holding",
                                               "  - { at: 0x32, point: reset, access: read-write }\n"
                                               "  - { at: 0x33, point: heartbeat, access: read-write }"));
  auto loaded = io::load_bench(workspace.write("bench.yaml", test::replaced(test::kBench, from, to)));
  if (!loaded) FAIL(workspace.lines(loaded.error()).front());
  return std::move(loaded).value();
}

const std::string kFiring = "firing: { mode: phase-angle, ramp: 500 ms }";
const std::string kControl = "control: { variable: power, full_scale: 24 kW }";
const std::string kCommsLoss = "comms_loss: { lines: [field], timeout: 3 s, policy: latch-to-inhibit }";
const std::string kLoad =
    "load: { connection: star-4-wire, elements: 4 in parallel, cold_resistance: 22 ohm, heats: soak }";
const std::string kPty = "field: { pty: /tmp/emberline/field, serial: 19200 8E1 }";
const std::string kTcp = "ethernet: { tcp: 127.0.0.1:1502 }";

}  // namespace

TEST_CASE("options of lines arrive in the line") {
  const auto pty = load_with(kPty,
                             "field: { pty: , unknown_id: exception-0B, strict_timing: true, "
                             "frame_silence: 80 ms }")
                       .lines.at(0);
  CHECK(pty.path.empty());
  CHECK(to_text(pty.serial) == "19200 8E1");
  CHECK(pty.unknown_id_exception_0b);
  CHECK(pty.strict_timing);
  CHECK(pty.frame_silence == 80ms);
  const auto tcp =
      load_with(kTcp, "ethernet: { tcp: '[::1]:0', max_connections: 2, beyond: drop-oldest }").lines.at(1);
  CHECK(tcp.host == "::1");
  CHECK(tcp.port == 0);
  CHECK(tcp.max_connections == 2);
  CHECK(tcp.drop_oldest);
  CHECK(load_with(kTcp, "ethernet: { tcp: localhost:1502 }").lines.at(1).host == "localhost");
}

TEST_CASE("options of serial ports and of RTU over TCP arrive in the line") {
  const auto plain = load_with(kTcp, "ethernet: { serial-port: /dev/ttyUSB0 }").lines.at(1);
  CHECK(plain.kind == bench::LineKind::serial_port);
  CHECK(plain.path == "/dev/ttyUSB0");
  CHECK(to_text(plain.serial) == "19200 8E1");
  CHECK(plain.paced);
  CHECK_FALSE(plain.rs485);
  CHECK_FALSE(plain.hears_itself);
  const auto port =
      load_with(kTcp,
                "ethernet: { serial-port: /dev/ttyS1, serial: 9600 8N2, pacing: none, rs485: on, "
                "hears_itself: on, strict_timing: on, frame_silence: 20 ms }")
          .lines.at(1);
  CHECK(to_text(port.serial) == "9600 8N2");
  CHECK_FALSE(port.paced);
  CHECK(port.rs485);
  CHECK(port.hears_itself);
  CHECK(port.strict_timing);
  CHECK(port.frame_silence == 20ms);
  const auto server = load_with(kTcp,
                                "ethernet: { rtu-tcp: 127.0.0.1:0, serial: 9600 8N2, max_connections: 3, "
                                "beyond: drop-oldest, idle_timeout: 60 s, unknown_id: exception-0B }")
                          .lines.at(1);
  CHECK(server.kind == bench::LineKind::rtu_tcp);
  CHECK(server.host == "127.0.0.1");
  CHECK(server.max_connections == 3);
  CHECK(server.drop_oldest);
  CHECK(server.idle_timeout == 60s);
  CHECK(server.unknown_id_exception_0b);
  CHECK(to_text(server.serial) == "9600 8N2");
}

TEST_CASE("the turnaround of a unit arrives in the unit") {
  const auto spec = load_with(kFiring, kFiring + "\n    turnaround: 5 ms");
  CHECK(spec.units.at(0).unit.turnaround == 5ms);
}

TEST_CASE("two lines without a path, and two on ports of their own choosing, do not collide") {
  const auto spec = load_with(kTcp, kTcp +
                                        "\n  a: { pty: }\n  b: { pty: }\n  c: { tcp: 127.0.0.1:0 }\n"
                                        "  d: { tcp: 127.0.0.1:0 }");
  CHECK(spec.lines.size() == 6);
}

TEST_CASE("options of the watchdog arrive in the watchdog") {
  const auto spec =
      load_with(
          kCommsLoss,
          "comms_loss: { lines: [field, ethernet], timeout: 0 s, policy: go-to-preset, preset: 20 %, "
          "reset_by: [reset-terminal, reset-register], feeds: heartbeat, from: power-up, acts_in: always, "
          "restored_after: 3 frames, setpoint_after_reset: keep, latch_survives_power: true }")
          .units.at(0)
          .unit.comms_loss;
  CHECK(spec.lines.size() == 2);
  CHECK(spec.timeout == 0s);
  CHECK(spec.policy == registers::Policy::go_to_preset);
  CHECK(spec.preset == 0.2);
  CHECK(spec.reset_by == std::vector{unit::ResetBy::reset_terminal, unit::ResetBy::reset_register});
  CHECK(spec.feeds == unit::Feeds::heartbeat);
  CHECK(spec.from == unit::ArmedFrom::power_up);
  CHECK(spec.acts_in == unit::ActsIn::always);
  CHECK(spec.restored_after == 3);
  CHECK(spec.setpoint_after_reset == unit::SetpointAfterReset::keep);
  CHECK(spec.latch_survives_power);
}

TEST_CASE("with one line the watchdog counts that line without being told") {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  auto text = test::replaced(test::kBench, "lines: [field, ethernet]", "lines: field");
  text = test::replaced(text, "comms_loss: { lines: [field], ", "comms_loss: { ");
  const auto loaded = io::load_bench(workspace.write("bench.yaml", text));
  REQUIRE(loaded.has_value());
  CHECK(loaded->units.at(0).unit.comms_loss.lines == std::vector<std::string>{"field"});
}

TEST_CASE("options of firing, control and load arrive in the unit") {
  CHECK(load_with(kFiring, "firing: { mode: phase-angle, angle: 68 deg }")
            .units.at(0)
            .unit.firing.held_angle_deg == 68.0);
  CHECK(load_with(kFiring, "firing: { mode: burst-spread, thyristor_drop: 0 V }")
            .units.at(0)
            .load.thyristor_drop_V == 0.0);
  CHECK(load_with(kControl, "control: { variable: open-loop }").units.at(0).unit.control.variable ==
        unit::ControlVariable::open_loop);
  CHECK(load_with(kControl, "control: { variable: voltage-squared, full_scale: 230 V }")
            .units.at(0)
            .unit.control.full_scale == 230.0);
  CHECK(load_with(kControl, "control: { variable: current, full_scale: 40 A }")
            .units.at(0)
            .unit.control.full_scale == 40.0);
  const auto load =
      load_with(
          kLoad,
          "load: { connection: star-4-wire, elements: 3 in series, cold_resistance: 2 ohm, thyristor_drop: "
          "900 mV, heats: soak, element: { heat_capacity: 900 J/K, coupling: 40 W/K } }")
          .units.at(0);
  CHECK(load.load.grouping == plant::Grouping::series);
  CHECK(load.load.thyristor_drop_V == 0.9);
  CHECK(load.load.material == plant::find_material("constant"));
  CHECK(load.element.heat_capacity_J_per_K == 900.0);
  CHECK(load.element.coupling_W_per_K == 40.0);
}

TEST_CASE("whole numbers may be hexadecimal, as manuals write addresses") {
  CHECK(load_with("id: 20", "id: 0x14").io_blocks.at(0).id == 20);
  CHECK(
      load_with("largest_block: 12", "largest_block: 0x0c registers").units.at(0).unit.intake.largest_block ==
      12);
}

TEST_CASE("a local setpoint is a percentage or follows a signal") {
  CHECK(load_with("limits: { current: 50 A }", "local_setpoint: 30 %").units.at(0).unit.local_setpoint ==
        0.3);
  CHECK(load_with("limits: { current: 50 A }", "local_setpoint: soak-heater.duty")
            .units.at(0)
            .unit.local_setpoint_signal == "soak-heater.duty");
}

TEST_CASE("a zone starts at its ambient temperature unless told otherwise") {
  const auto zone = load_with("start: 540 degC", "ambient: 31 degC").zones.at(0).parameters;
  CHECK(zone.ambient_degC == 31.0);
  CHECK(zone.start_degC == 31.0);
}

TEST_CASE("relays act on warnings and trips by name") {
  const auto relay = load_with("on: [comms-loss]",
                               "on: [comms-loss, supply-absent], coil: energised-on-alarm, "
                               "contact: normally-closed")
                         .units.at(0)
                         .unit.relays.at(0);
  CHECK(relay.on_trips == registers::bit(registers::Trip::comms_loss));
  CHECK(relay.on_warnings ==
        (registers::bit(registers::Warning::comms_loss) | registers::bit(registers::Warning::supply_absent)));
  CHECK(relay.coil == unit::Coil::energised_on_alarm);
  CHECK(relay.contact == unit::Contact::normally_closed);
}

TEST_CASE("an input register of an io-block that names a signal alone carries its natural unit") {
  const auto input = load_with("1: soak.temperature", "1: soak.temperature, 2: soak-heater.load_power")
                         .io_blocks.at(0)
                         .input;
  CHECK(input.at(1).layout.type == registers::Type::s16);
  CHECK(input.at(1).layout.scale == 1.0);
  CHECK(input.at(2).layout.type == registers::Type::u16);
}

TEST_CASE("an io-block may carry the coil of another one that stands behind it") {
  const auto spec =
      load_with("io_blocks:\n",
                "io_blocks:\n  first: { id: 21, lines: [ethernet], discrete: { 0: marshalling.coil.0 } }\n");
  CHECK(spec.io_blocks.at(0).discrete.at(0) == "marshalling.coil.0");
}

TEST_CASE("on a single-phase supply nothing is connected in star or delta") {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  auto text = test::replaced(test::kBench, "system: three-phase, voltage: 400 V",
                             "system: single-phase, voltage: 230 V");
  text = test::replaced(text, "connection: star-4-wire, elements: 4 in parallel, ", "elements: 1, ");
  const auto loaded = io::load_bench(workspace.write("bench.yaml", text));
  REQUIRE(loaded.has_value());
  CHECK(loaded->units.at(0).load.connection == plant::Connection::single_phase);
}

namespace {

rehearsal::Condition condition_of(const std::string& text) {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  workspace.write("bench.yaml", test::kBench);
  const auto scenario = test::replaced(test::kScenario, "soak-heater.load_power: { above: 11 kW }", text);
  auto loaded = io::load_scenario(workspace.write("scenario.yaml", scenario));
  if (!loaded) FAIL(workspace.lines(loaded.error()).front());
  return loaded->expectations.at(0).conditions.at(0);
}

}  // namespace

TEST_CASE("conditions are read in the words of their signal") {
  using Comparator = rehearsal::Condition::Comparator;
  struct Case {
    const char* text;
    Comparator comparator;
    double a;
    double b;
  };
  const Case cases[] = {
      {"soak-heater.state: running", Comparator::equals, 3, 0},
      {"soak-heater.state: 3", Comparator::equals, 3, 0},
      {"soak-heater.state: { not: tripped }", Comparator::not_equal, 7, 0},
      {"soak-heater.load_power: { at_least: 11 kW }", Comparator::at_least, 11e3, 0},
      {"soak-heater.load_current_l1: { between: [1 A, 2 A] }", Comparator::between, 1, 2},
      {"soak-heater.output: { near: 50 %, tolerance: 1 % }", Comparator::near, 0.5, 0.01},
      {"soak.measured: { near: 540 degC, tolerance: 5 K }", Comparator::near, 540, 5},
      {"soak-heater.warnings: { include: [comms-loss, current-limit] }", Comparator::include, 33, 0},
      {"soak-heater.trips: { exclude: comms-loss }", Comparator::exclude, 1, 0},
      {"soak-heater.warnings: { not: 0x820 }", Comparator::not_equal, 0x820, 0},
      {"soak-heater.warnings: none", Comparator::equals, 0, 0},
      {"main.closed: closed", Comparator::equals, 1, 0},
      {"marshalling.input.0: { below: 600 degC }", Comparator::below, 600, 0},
      {"field.state: cut", Comparator::equals, 1, 0},
      {"soak-heater.comms_gap_longest: { at_most: 2100 ms }", Comparator::at_most, 2.1, 0},
  };
  for (const auto& [text, comparator, a, b] : cases) {
    CAPTURE(text);
    const auto condition = condition_of(text);
    CHECK(condition.comparator == comparator);
    CHECK(condition.a == doctest::Approx(a));
    CHECK(condition.b == doctest::Approx(b));
  }
}

TEST_CASE("a reason may go over several lines, and becomes one") {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  workspace.write("bench.yaml", test::kBench);
  const auto why = [&](const std::string& text) {
    const auto scenario = test::replaced(test::kScenario, "why: The unit has to latch.", text);
    const auto loaded = io::load_scenario(workspace.write("scenario.yaml", scenario));
    return loaded ? loaded->why : workspace.lines(loaded.error()).front();
  };
  CHECK(why("why: |\n  Härte first,\n  heat later.") == "Härte first, heat later.");
  CHECK(why("why: >\n  Härte first,\n  heat later.") == "Härte first, heat later.");
  CHECK(why("why: Härte first,\n  heat later.\t# a tab before a comment") == "Härte first, heat later.");
}

TEST_CASE("a control loop of a stand-in arrives with its target, gain and integral time") {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  workspace.write("bench.yaml", test::kBench);
  const auto loaded = io::load_scenario(workspace.write("scenario.yaml", test::kScenario));
  REQUIRE(loaded.has_value());
  const auto& step = loaded->masters.at(0).program.at(2);
  CHECK(step.kind == rehearsal::ProgramStep::Kind::control);
  CHECK(step.output->name == "soak-heater.setpoint");
  CHECK(step.measured->io_block);
  CHECK(step.target_value == 560.0);
  CHECK(step.gain == doctest::Approx(0.04));
  CHECK(step.integral_time == 120s);
}

TEST_CASE("the options of register rows arrive in the row") {
  const test::Workspace workspace;
  const auto text =
      test::replaced(test::kTable, "input: same-as-holding",
                     "  - { at: 0x60, point: comms_policy, access: write-only, out_of_range: ignore, "
                     "byte_order: low-first, values: { go-to-preset: 9 } }\n"
                     "discrete:\n  - { at: 7, point: warnings, flag: supply-absent }\n"
                     "input:\n  - { at: 3, point: element_temperature, as: s16, scale: 0.1 degC }\n"
                     "access: read-write\nout_of_range: exception-04\ngaps: zero");
  const auto loaded = io::load_register_table(workspace.write("table.yaml", text));
  REQUIRE(loaded.has_value());
  const auto& table = **loaded;
  const auto* policy = table.find(registers::Point::comms_policy);
  REQUIRE(policy != nullptr);
  CHECK(policy->access == registers::Access::write_only);
  CHECK(policy->out_of_range == registers::OutOfRange::ignore);
  CHECK(policy->layout.byte_order == registers::ByteOrder::low_first);
  CHECK(policy->values == std::map<int, int>{{2, 9}});
  const auto* timeout = table.find(registers::Point::comms_timeout);
  REQUIRE(timeout != nullptr);
  CHECK(timeout->kept);
  CHECK(timeout->out_of_range == registers::OutOfRange::exception_04);
  const auto* warnings = table.find(registers::Point::warnings);
  REQUIRE(warnings != nullptr);
  CHECK(warnings->flags == std::map<int, int>{{0, 15}});
  const auto* power = table.find(registers::Point::load_power);
  REQUIRE(power != nullptr);
  CHECK(power->split_refused);
  CHECK(power->layout.word_order == registers::WordOrder::low_first);
  CHECK(table.gaps() == registers::Gaps::zero);
  const auto* temperature = table.find(registers::Point::element_temperature);
  REQUIRE(temperature != nullptr);
  CHECK(temperature->table == modbus::Table::input_registers);
}

TEST_CASE("what a unit says it is arrives under its object ids, beside what is not given") {
  using Objects = std::map<std::uint8_t, std::string>;
  const auto given =
      load_with("    id: 1\n",
                "    id: 1\n    identity: { product_code: hall-heater, revision: 2.1, vendor_url: "
                "emberline.example, product_name: Heater, model_name: Forty, application_name: "
                "'lehr, zone 3', private: { 0x80: hall 2, 255: last } }\n");
  CHECK(given.units.at(0).unit.identity.objects == Objects{{0x00, "Emberline"},
                                                           {0x01, "hall-heater"},
                                                           {0x02, "2.1"},
                                                           {0x03, "emberline.example"},
                                                           {0x04, "Heater"},
                                                           {0x05, "Forty"},
                                                           {0x06, "lehr, zone 3"},
                                                           {0x80, "hall 2"},
                                                           {0xFF, "last"}});
  CHECK(given.io_blocks.at(0).identity.objects ==
        Objects{{0x00, "Emberline"}, {0x01, "virtual-io-block"}, {0x02, "1.0"}});
  const auto block = load_with("    id: 20\n", "    id: 20\n    identity: { vendor_name: Kilnworks }\n");
  CHECK(block.io_blocks.at(0).identity.objects.at(0x00) == "Kilnworks");
  CHECK(block.units.at(0).unit.identity.objects ==
        Objects{{0x00, "Emberline"}, {0x01, "virtual-unit"}, {0x02, "1.0"}});
}
