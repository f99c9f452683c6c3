#include "sim/bench/bench.hpp"

#include <cmath>
#include <string>

#include <doctest/doctest.h>

#include "sim/modbus/pdu.hpp"
#include "tests/support/heated_bench.hpp"
#include "tests/support/running_bench.hpp"

using namespace emberline;
using namespace std::chrono_literals;
using registers::Point;

namespace {

constexpr std::size_t kField = 0;
constexpr std::size_t kEthernet = 1;

modbus::Bytes write_register(std::uint16_t address, std::uint16_t value) {
  return {0x06, static_cast<std::uint8_t>(address >> 8), static_cast<std::uint8_t>(address),
          static_cast<std::uint8_t>(value >> 8), static_cast<std::uint8_t>(value)};
}
modbus::Bytes read_registers(std::uint8_t function, std::uint16_t address, std::uint16_t count) {
  return {function, static_cast<std::uint8_t>(address >> 8), static_cast<std::uint8_t>(address),
          static_cast<std::uint8_t>(count >> 8), static_cast<std::uint8_t>(count)};
}
modbus::Bytes write_coil(std::uint16_t address, bool on) {
  return {0x05, static_cast<std::uint8_t>(address >> 8), static_cast<std::uint8_t>(address),
          static_cast<std::uint8_t>(on ? 0xFF : 0x00), 0x00};
}

/// A bench with its loop, driven by hand.
struct Running : testing::RunningBench {
  using RunningBench::RunningBench;
  std::optional<modbus::Bytes> ask(std::size_t line, std::uint8_t id, const modbus::Bytes& pdu) {
    loop.touched();
    return bench.request(line, id, pdu, loop.now(), "plc").pdu;
  }
  /// Runs on while the master asks every second over the field line.
  void polled_to(Duration end) {
    while (loop.now() + 1s < SimTime{end}) {
      to(loop.now().time_since_epoch() + 1s);
      ask(kField, 1, read_registers(3, 1, 1));
    }
    to(end);
  }
};

}  // namespace

TEST_CASE(
    "a setpoint of 50 % of power becomes half of full scale, with voltage and current that fit the "
    "resistance") {
  // Ohm's law and the power of a balanced star, P = 3 I^2 R (any handbook of electrical engineering); ramp
  // 500 ms, averaging 200 ms.
  Running run(testing::heated_bench());
  run.to(1s);
  CHECK(run.ask(kField, 1, write_register(0, 500)) == write_register(0, 500));
  CHECK(run.value("heater.setpoint") == doctest::Approx(0.5));
  run.to(1s + 250ms + 220ms);  // half of the ramp, the averaging window, one cycle
  const double power_W = run.value("heater.load_power");
  const double current_A = run.value("heater.load_current");
  const double voltage_V = run.value("heater.load_voltage");
  CHECK(std::abs(power_W - 12000) < 0.005 * 24000);
  CHECK(voltage_V / current_A == doctest::Approx(22.0 / 4).epsilon(1e-6));
  CHECK(3 * current_A * current_A * 5.5 == doctest::Approx(power_W).epsilon(1e-6));
  CHECK(run.value("heater.supply_voltage") == doctest::Approx(400 / std::sqrt(3.0)).epsilon(1e-6));
}

TEST_CASE("the zone warms along the exponential of a body with loss") {
  // First-order step response, T = T_a + P/G (1 - exp(-t G/C)): Incropera/DeWitt, Fundamentals of Heat and
  // Mass Transfer, ch. 5.
  auto spec = testing::heated_bench();
  spec.units[0].unit.comms_loss.timeout = Duration{};
  spec.units[0].unit.firing.ramp = Duration{};
  Running run(std::move(spec));
  run.ask(kField, 1, write_register(0, 500));
  const double time_constant_s = 20.0 * 500.0 / 25.0;
  for (const double t_s : {100.0, 400.0, 1200.0}) {
    run.to(from_seconds(t_s));
    const double rise_K = 12000.0 / 25.0 * (1 - std::exp(-t_s / time_constant_s));
    CHECK(run.value("oven.temperature") - 25.0 == doctest::Approx(rise_K).epsilon(1e-3));
    CHECK(run.value("oven.measured") == doctest::Approx(run.value("oven.temperature")));
  }
  CHECK(run.value("heater.energy") == doctest::Approx(12000.0 * 1200.0).epsilon(1e-4));
}

TEST_CASE("a pulled cable latches the unit exactly when its timeout is over") {
  Running run(testing::heated_bench());
  run.to(1s);
  run.ask(kField, 1, write_register(0, 500));
  run.to(4s - 1ns);
  CHECK(run.value("heater.state") == static_cast<double>(registers::State::running));
  CHECK(run.value("heater.output") > 0.0);
  run.to(4s);
  CHECK(run.value("heater.state") == static_cast<double>(registers::State::inhibited));
  CHECK(run.value("heater.output") == 0.0);
  CHECK(run.value("heater.load_power") > 1000.0);  // a meter's window still remembers
  run.to(4s + 220ms);
  CHECK(run.value("heater.load_power") == doctest::Approx(0.0));
}

TEST_CASE("a frame at the very instant of expiry is in time") {
  Running run(testing::heated_bench());
  run.to(1s);
  run.ask(kField, 1, write_register(0, 500));
  run.loop.run_before(SimTime{4s});
  run.ask(kField, 1, read_registers(3, 1, 1));
  run.to(4s);
  CHECK(run.value("heater.state") == static_cast<double>(registers::State::running));
}

TEST_CASE("requests over a line that does not count feed no watchdog") {
  Running run(testing::heated_bench());
  run.ask(kField, 1, write_register(0, 500));
  for (int i = 1; i < 8; ++i) {
    run.to(i * 500ms);
    run.ask(kEthernet, 1, read_registers(3, 1, 1));
  }
  CHECK(run.value("heater.state") == static_cast<double>(registers::State::inhibited));
}

TEST_CASE("reads never move physics: a polled bench and a silent one have the same temperatures") {
  auto spec = testing::heated_bench();
  spec.units[0].unit.comms_loss.timeout = Duration{};
  Running silent(spec);
  Running polled(spec);
  for (auto* run : {&silent, &polled}) run->ask(kField, 1, write_register(0, 373));
  for (int i = 1; i <= 500; ++i) {
    silent.to(i * 1s);
    for (int k = 0; k < 7; ++k) {
      polled.to(i * 1s - 1s + k * 137ms);
      polled.ask(kField, 1, read_registers(3, 0, 7));
    }
    polled.to(i * 1s);
  }
  CHECK(silent.value("oven.temperature") == polled.value("oven.temperature"));
  CHECK(silent.value("heater.energy") == polled.value("heater.energy"));
}

TEST_CASE("a read that ends a hold changes the output late, or the power before the next mains cycle") {
  auto spec = testing::heated_bench();
  spec.units[0].unit.firing.ramp = Duration{};
  spec.units[0].unit.comms_loss.policy = registers::Policy::hold_last_command;
  Running run(std::move(spec));
  run.to(1s);
  run.ask(kField, 1, write_register(0, 750));
  run.to(6s);
  CHECK(run.value("heater.state") == static_cast<double>(registers::State::holding));
  run.ask(kEthernet, 1, write_register(0, 250));  // this line does not feed: the hold goes on
  run.to(10s + 3ms);                              // between two grid instants
  const double held = run.value("heater.output");
  run.ask(kField, 1, read_registers(3, 1, 1));
  CHECK(run.value("heater.state") == static_cast<double>(registers::State::running));
  CHECK(run.value("heater.output") == doctest::Approx(held / 3));
  // Energy is the integral of power: 18 kW from the cycle after the write until that after the read, which
  // begin at 1.02 s and 10.02 s, then 6 kW (the hold began again at 13 s 3 ms, with the same setpoint).
  run.to(20s);
  CHECK(run.value("heater.energy") == doctest::Approx(18e3 * 9.0 + 6e3 * 9.98).epsilon(1e-5));
}

TEST_CASE("a setpoint that is written over and over moves physics, or one that changes does not") {
  auto spec = testing::heated_bench();
  spec.units[0].unit.firing.ramp = Duration{};
  Running silent(spec);
  Running polled(spec);
  for (auto* run : {&silent, &polled}) run->ask(kField, 1, write_register(0, 373));
  for (int i = 1; i <= 100; ++i) {
    silent.to(i * 1s - 1s + 137ms);
    silent.ask(kField, 1, read_registers(3, 0, 7));  // feeds the watchdog
    silent.to(i * 1s);
    polled.to(i * 1s - 1s + 137ms);
    const modbus::Bytes masked{0x16, 0, 0, 0xFF, 0xFF, 0, 0};  // leaves all as it is
    CHECK(polled.ask(kField, 1, write_register(0, 373)) == write_register(0, 373));
    CHECK(polled.ask(kField, 1, {0x10, 0, 0, 0, 1, 2, 1, 117}) == modbus::Bytes{0x10, 0, 0, 0, 1});
    CHECK(polled.ask(kField, 1, masked) == masked);
    CHECK(polled.ask(kField, 1, {0x17, 0, 0, 0, 1, 0, 0, 0, 1, 2, 1, 117}) == modbus::Bytes{0x17, 2, 1, 117});
    CHECK(polled.ask(kField, 1, write_register(0, 2000)) == modbus::Bytes{0x86, 0x03});
    polled.to(i * 1s);
  }
  CHECK(polled.value("heater.setpoint") == doctest::Approx(0.373));
  CHECK(silent.value("oven.temperature") == polled.value("oven.temperature"));
  CHECK(silent.value("heater.energy") == polled.value("heater.energy"));
  for (auto* run : {&silent, &polled}) {
    const double before = run->value("heater.load_power");
    run->to(100s + 3ms);
    run->ask(kField, 1, write_register(0, 400));
    run->to(100s + 40ms);
    // Within two cycles the meter, which takes the mean over ten, has seen one of it.
    CHECK(run->value("heater.load_power") == doctest::Approx(before * (0.9 + 0.1 * 400 / 373)).epsilon(1e-4));
  }
}

TEST_CASE("reads that feed nothing or are refused move no physics") {
  auto spec = testing::heated_bench();
  spec.units[0].unit.comms_loss.policy = registers::Policy::hold_last_command;
  Running silent(spec);
  Running polled(spec);
  for (auto* run : {&silent, &polled}) run->ask(kField, 1, write_register(0, 373));
  for (int i = 1; i <= 100; ++i) {  // long after comms were lost
    silent.to(i * 1s);
    polled.to(i * 1s - 1s + 137ms);
    polled.ask(kEthernet, 1, read_registers(3, 0, 7));
    polled.ask(kEthernet, 1, read_registers(3, 90, 7));  // 02
    polled.ask(kEthernet, 1, {0x2B, 0x0E, 0x01, 0x00});  // 01
    polled.to(i * 1s);
  }
  CHECK(silent.value("oven.temperature") == polled.value("oven.temperature"));
  CHECK(silent.value("heater.energy") == polled.value("heater.energy"));
}

TEST_CASE("ids: somebody else's stays silent, TCP 0 and 255 reach the only slave, RTU 0 is a broadcast") {
  Running run(testing::heated_bench());
  CHECK_FALSE(run.ask(kField, 2, read_registers(3, 1, 1)));
  CHECK(run.ask(kEthernet, 255, read_registers(3, 1, 1)));
  CHECK(run.ask(kEthernet, 0, read_registers(3, 1, 1)));
  CHECK_FALSE(run.ask(kField, 0, write_register(0, 250)));
  CHECK(run.value("heater.setpoint") == doctest::Approx(0.25));

  auto two = testing::wired_bench();
  Running both(two);
  CHECK_FALSE(both.ask(kEthernet, 255, read_registers(3, 1, 1)));
  two.lines[1].unknown_id_exception_0b = true;
  Running gateway(two);
  // Application Protocol V1.1b3, section 7: 0B, gateway target device failed to respond.
  CHECK(gateway.ask(kEthernet, 7, read_registers(3, 1, 1)) == modbus::Bytes{0x83, 0x0B});
}

TEST_CASE("io-block coils close enable and contactor; without them nothing heats") {
  Running run(testing::wired_bench());
  CHECK(run.value("heater.terminal.enable") == 0.0);
  CHECK(run.value("main.closed") == 0.0);
  run.ask(kField, 1, write_register(0, 500));
  CHECK(run.value("heater.state") == static_cast<double>(registers::State::stopped));
  CHECK(run.ask(kEthernet, 20, write_coil(0, true)) == write_coil(0, true));
  CHECK(run.value("heater.state") == static_cast<double>(registers::State::running));
  run.to(1s);
  const auto supply_absent = registers::bit(registers::Warning::supply_absent);
  CHECK((static_cast<std::uint32_t>(run.value("heater.warnings")) & supply_absent) != 0);
  CHECK(run.value("heater.load_power") == 0.0);
  CHECK(run.ask(kEthernet, 20, write_coil(8, true)) == write_coil(8, true));
  CHECK((static_cast<std::uint32_t>(run.value("heater.warnings")) & supply_absent) == 0);
  run.to(1s + 800ms);
  CHECK(run.value("heater.load_power") == doctest::Approx(12000).epsilon(0.005));
}

TEST_CASE("io-block addresses: unwired ones read 0 beside wired ones, alone they are 02") {
  Running run(testing::wired_bench());
  CHECK(run.ask(kEthernet, 20, write_coil(8, true)));
  CHECK(run.ask(kEthernet, 20, read_registers(1, 0, 9)) == modbus::Bytes{0x01, 0x02, 0x00, 0x01});
  CHECK(run.ask(kEthernet, 20, read_registers(1, 1, 7)) == modbus::Bytes{0x81, 0x02});
  CHECK(run.ask(kEthernet, 20, write_coil(1, true)) == modbus::Bytes{0x85, 0x02});
  CHECK(run.ask(kEthernet, 20, read_registers(2, 0, 2)) == modbus::Bytes{0x02, 0x01, 0x01});
  CHECK(run.ask(kEthernet, 20, read_registers(4, 0, 2)) ==
        modbus::Bytes{0x04, 0x04, 0x00, 0xFA, 0x00, 0x00});  // 25.0 degC
  CHECK(run.ask(kEthernet, 20, read_registers(4, 5, 1)) == modbus::Bytes{0x84, 0x02});
  CHECK(run.ask(kEthernet, 20, read_registers(3, 0, 1)) == modbus::Bytes{0x83, 0x02});
  CHECK(run.ask(kEthernet, 20, write_register(0, 1)) == modbus::Bytes{0x86, 0x02});
}

TEST_CASE("an io-block's outputs fall off when nobody asks, and stay off until they are written again") {
  Running run(testing::wired_bench());
  run.ask(kEthernet, 20, write_coil(8, true));
  run.to(9s);
  run.ask(kEthernet, 20, read_registers(1, 0, 1));
  run.to(19s - 1ns);
  CHECK(run.value("main.closed") == 1.0);
  run.to(19s);
  CHECK(run.value("main.closed") == 0.0);
  CHECK(run.journal_says("nobody asked for 10 s: all coils off"));
  run.ask(kEthernet, 20, read_registers(1, 0, 1));
  CHECK(run.value("main.closed") == 0.0);
  run.ask(kEthernet, 20, write_coil(8, true));
  CHECK(run.value("main.closed") == 1.0);
}

TEST_CASE("a broadcast read does not keep an io-block's outputs on, a broadcast write does") {
  // MODBUS over Serial Line V1.02, 2.1: only writes may be broadcast.
  auto spec = testing::wired_bench();
  spec.io_blocks[0].lines = {"field"};
  const auto closed_at_10_s = [&](const modbus::Bytes& broadcast) {
    Running run(spec);
    run.ask(kField, 20, write_coil(8, true));
    run.to(9s);
    CHECK_FALSE(run.ask(kField, 0, broadcast));
    run.to(10s);
    return run.value("main.closed") == 1.0;
  };
  CHECK_FALSE(closed_at_10_s(read_registers(1, 0, 1)));
  CHECK_FALSE(closed_at_10_s({0x2B, 0x0E, 0x01, 0x00}));
  CHECK(closed_at_10_s(write_coil(8, true)));
}

TEST_CASE("a cycled wire opens for one second; without a coil that is on there is no closing edge") {
  Running run(testing::wired_bench());
  const auto wire = bench::find_wire(run.bench.spec(), "heater.terminal.enable");
  REQUIRE(wire);
  run.bench.cycle_wire(*wire, run.loop.now());
  run.to(1s);
  CHECK(run.value("heater.terminal.enable") == 0.0);
  CHECK(run.journal_says("no closing edge"));
  run.ask(kEthernet, 20, write_coil(0, true));
  run.bench.cycle_wire(*wire, run.loop.now());
  run.to(2s - 1ns);
  CHECK(run.value("heater.terminal.enable") == 0.0);
  run.to(2s);
  CHECK(run.value("heater.terminal.enable") == 1.0);
}

TEST_CASE("a broken or bridged wire overrides its coil until it is released") {
  Running run(testing::wired_bench());
  const auto wire = *bench::find_wire(run.bench.spec(), "main");
  run.bench.close_wire(wire, run.loop.now());
  CHECK(run.value("main.closed") == 1.0);
  run.ask(kEthernet, 20, write_coil(8, true));
  run.bench.open_wire(wire, run.loop.now());
  CHECK(run.value("main.closed") == 0.0);
  run.bench.release_wire(wire, run.loop.now());
  CHECK(run.value("main.closed") == 1.0);
}

TEST_CASE("spread burst on a delta gives the asked share of 3 V^2/R over a whole number of periods") {
  // Power of a balanced delta: 3 V^2 / R, here 30 kW (400 V, 16 ohm); integral-cycle control: P = k P_full
  // (Rashid, Power Electronics, ch. 11).
  auto spec = testing::heated_bench();
  auto& entry = spec.units[0];
  entry.load.connection = plant::Connection::delta;
  entry.load.elements = 1;
  entry.load.cold_resistance_ohm = {16, 16, 16};
  entry.unit.firing.mode = unit::FiringMode::burst_spread;
  entry.unit.firing.ramp = Duration{};
  entry.unit.control.variable = unit::ControlVariable::open_loop;
  entry.unit.averaging = 2s;
  entry.unit.comms_loss.timeout = Duration{};
  Running run(std::move(spec));
  run.ask(kField, 1, write_register(0, 360));
  run.to(4s);
  CHECK(run.value("heater.load_power") == doctest::Approx(0.36 * 30000).epsilon(0.011));  // one cycle in 100
  CHECK(run.value("heater.load_current") == doctest::Approx(25.0 * 0.6).epsilon(0.011));
  CHECK(run.value("heater.line_current") == doctest::Approx(25.0 * 0.6 * std::sqrt(3.0)).epsilon(0.011));
}

TEST_CASE(
    "a unit without control supply answers nobody and heats nothing, and comes back through its start-up") {
  Running run(testing::heated_bench());
  run.ask(kField, 1, write_register(0, 500));
  run.to(1s);
  run.bench.set_unit_powered(0, false, run.loop.now());
  CHECK_FALSE(run.ask(kField, 1, read_registers(3, 1, 1)));
  run.to(2s);
  CHECK(run.value("heater.load_power") == 0.0);
  run.bench.set_unit_powered(0, true, run.loop.now());
  CHECK_FALSE(run.ask(kField, 1, read_registers(3, 1, 1)));
  run.to(3s);
  CHECK(run.ask(kField, 1, read_registers(3, 0, 2)) == modbus::Bytes{0x03, 0x04, 0x00, 0x00, 0x00, 0x03});
}

TEST_CASE("every signal of a bench is found by its own name") {
  const auto spec = testing::wired_bench();
  const auto names = bench::all_signal_names(spec);
  CHECK(names.size() > 40);
  for (const auto& name : names) {
    const auto id = bench::find_signal(spec, name);
    REQUIRE_MESSAGE(id, name);
    CHECK(bench::signal_name(spec, *id) == name);
  }
  for (const char* wrong :
       {"heater", "heater.nothing", "oven.closed", "marshalling.coil.5", "supply.voltage_l4", ""}) {
    CHECK_FALSE(bench::find_signal(spec, wrong));
  }
}
