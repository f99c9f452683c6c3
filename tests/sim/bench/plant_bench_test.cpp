#include <cmath>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/support/heated_bench.hpp"
#include "tests/support/running_bench.hpp"

using namespace emberline;
using namespace std::chrono_literals;

namespace {

/// A bench with its loop and a master that sets the setpoint of the first unit.
struct Plant : testing::RunningBench {
  explicit Plant(bench::BenchSpec spec, std::uint64_t seed = 1)
      : RunningBench(std::move(spec), {1.0, seed}) {}
  void command(int id, unsigned tenths) {
    const modbus::Bytes pdu{0x06, 0, 0, static_cast<std::uint8_t>(tenths >> 8U),
                            static_cast<std::uint8_t>(tenths & 0xFFU)};
    const auto reply = bench.request(0, static_cast<std::uint8_t>(id), pdu, loop.now(), "plc");
    REQUIRE(reply.pdu);
    loop.touched();
  }
  void run(Duration length) { loop.run_through(loop.now() + length); }
};

/// The heated bench in open loop, without a watchdog and without a ramp.
bench::BenchSpec open_loop() {
  auto spec = testing::heated_bench();
  spec.units[0].unit.comms_loss.timeout = 0s;
  spec.units[0].unit.control = {};
  spec.units[0].unit.firing.ramp = 0s;
  return spec;
}

/// Two star loads in bursts with a base of one second, of which the first takes 4 x the power of the second.
bench::BenchSpec two_in_bursts(bool shared) {
  auto spec = open_loop();
  spec.units[0].unit.firing.mode = unit::FiringMode::burst;
  auto second = spec.units[0];
  second.unit.name = "second";
  second.unit.id = 2;
  second.load.elements = 1;
  second.heats.reset();
  spec.units.push_back(second);
  if (shared) spec.load_sharing.push_back({"ring", {"heater", "second"}});
  return spec;
}

}  // namespace

TEST_CASE("a soft start brings the angle down from 180 degrees, and only when conduction begins") {
  auto spec = open_loop();
  spec.units[0].unit.firing.soft_start = 1s;
  Plant plant(spec);
  plant.run(1s);
  plant.command(1, 1000);
  double last = 181.0;
  for (int i = 0; i < 9; ++i) {
    plant.run(100ms);
    const double angle = plant.value("heater.firing_angle");
    CHECK(angle < last);
    // Conduction begins with the cycle after the command, and shown is the middle of the last whole one.
    CHECK(angle == doctest::Approx(180.0 * (1.0 - (0.1 * (i + 1) - 0.02 - 0.01))));
    last = angle;
  }
  plant.run(200ms);
  CHECK(plant.value("heater.firing_angle") == 0.0);
  plant.command(1, 500);
  plant.run(40ms);
  CHECK(plant.value("heater.firing_angle") == doctest::Approx(90.0));  // no second soft start
}

TEST_CASE("a mains cycle is fired by a setpoint that another has taken the place of") {
  Plant plant(open_loop());
  Plant straight(open_loop());
  for (auto* each : {&plant, &straight}) each->run(1s + 3ms);
  for (const unsigned tenths : {1000u, 0u, 800u}) {
    plant.command(1, tenths);
    plant.run(5ms);
  }
  straight.run(15ms);
  for (auto* each : {&plant, &straight}) each->command(1, 500);
  CHECK(plant.value("heater.output") == 0.5);
  for (auto* each : {&plant, &straight}) each->run(1s);
  CHECK(plant.value("heater.energy") > 0.0);
  CHECK(plant.value("heater.energy") == straight.value("heater.energy"));
}

TEST_CASE("meters stand still while a cycle in which the current died away is in their window") {
  auto spec = open_loop();
  spec.units[0].load.inductance_H = {5e-3, 5e-3, 5e-3};  // current outlasts the last half-wave
  for (const Duration end : {Duration{2s}, Duration{2s + 3ms}}) {
    Plant plant(spec);
    plant.command(1, 700);
    plant.run(end);
    CHECK(plant.value("heater.load_power") > 1000.0);
    plant.command(1, 0);
    plant.run(200ms + 60ms);  // the window, the rest of the cycle, the one it dies away in, and one to spare
    CHECK(plant.value("heater.load_power") < 1e-9);  // the integral over the cycle has rounding in it
  }
}

TEST_CASE("a ramp's last step stays in what the meters show") {
  auto spec = open_loop();
  spec.units[0].unit.firing.ramp = 500ms;
  Plant plant(spec);
  plant.command(1, 300);
  plant.run(5s + 40ms);
  plant.command(1, 500);
  plant.run(100ms + 200ms + 50ms);  // the ramp, the window, and before the next instant of a coarse grid
  const double shown = plant.value("heater.load_power");
  plant.run(1s);
  CHECK(shown == doctest::Approx(plant.value("heater.load_power")).epsilon(1e-6));
}

TEST_CASE("a supply that comes back is taken at full conduction, and the unit trips for it") {
  for (const Duration into_cycle : {Duration{0ms}, Duration{3ms}}) {
    auto spec = testing::heated_bench();  // in closed loop on power
    spec.units[0].unit.comms_loss.timeout = 0s;
    spec.units[0].unit.firing.ramp = 0s;
    spec.units[0].unit.rated_current_A = 25.0;  // 27 A are asked for; at full conduction the load takes 42 A
    Plant plant(spec);
    plant.command(1, 500);
    plant.run(2s);
    const double before_A = plant.value("heater.load_current");
    const auto healthy = plant.bench.supply_state();
    auto low = healthy;
    low.share = {0.6, 0.6, 0.6};
    plant.bench.change_supply(low, plant.loop.now(), "supply", "dips");
    plant.loop.touched();
    plant.run(2s + into_cycle);
    CHECK(plant.value("heater.output") > 0.9);
    plant.bench.change_supply(healthy, plant.loop.now(), "supply", "is back");
    plant.loop.touched();
    plant.run(1s);
    CHECK(plant.value("heater.trips") == 0.0);
    CHECK(plant.value("heater.load_current") == doctest::Approx(before_A).epsilon(1e-3));
  }
}

TEST_CASE(
    "a supply away for half a cycle is no end of conduction, so that it begins again without a soft start") {
  auto spec = open_loop();
  spec.units[0].unit.firing.soft_start = 400ms;
  Plant plant(spec);
  plant.command(1, 1000);
  plant.run(2s + 3ms);
  CHECK(plant.value("heater.firing_angle") == 0.0);
  const auto healthy = plant.bench.supply_state();
  auto none = healthy;
  none.share = {0.0, 0.0, 0.0};
  plant.bench.change_supply(none, plant.loop.now(), "supply", "gone");
  plant.run(10ms);
  plant.bench.change_supply(healthy, plant.loop.now(), "supply", "back");
  plant.loop.touched();
  plant.run(100ms);
  CHECK(plant.value("heater.firing_angle") > 90.0);
}

TEST_CASE("a fault elsewhere lets the loop learn from a cycle that another output fired") {
  auto spec = testing::heated_bench();
  spec.units[0].unit.comms_loss.timeout = 0s;
  spec.units[0].unit.firing.ramp = 0s;
  auto other = spec.units[0];
  other.unit.name = "other";
  other.unit.id = 2;
  other.heats.reset();
  spec.units.push_back(other);
  Plant plant(spec);
  plant.command(1, 200);
  plant.run(2s + 3ms);
  plant.command(1, 800);
  plant.run(22ms);
  auto leg = plant.bench.leg_state(1, 0);
  leg.fuse_open = true;
  plant.bench.change_leg(1, 0, leg, plant.loop.now(), "other", "opens");
  plant.loop.touched();
  plant.run(1s);
  CHECK(plant.value("heater.load_power") == doctest::Approx(0.8 * 24e3).epsilon(1e-4));
}

TEST_CASE("a fuse melts under what it cannot carry, and its unit trips") {
  auto spec = open_loop();
  spec.units[0].fuse = {30.0, 2e3};  // the load takes 42 A a line
  spec.units[0].unit.protections[static_cast<std::size_t>(unit::Protection::overload)].on = false;
  Plant plant(spec);
  plant.command(1, 1000);
  plant.run(1500ms);
  CHECK(plant.value("heater.state") == static_cast<double>(registers::State::running));
  plant.run(200ms);  // t = (melting/Ir^2) ln(I^2/(I^2 - Ir^2)) = 1.59 s, by the first-order law
  CHECK(plant.journal_says("fuse melted"));
  CHECK((static_cast<std::uint32_t>(plant.value("heater.trips")) &
         registers::bit(registers::Trip::fuse_open)) != 0);
  CHECK(plant.value("heater.output") == 0.0);
}

TEST_CASE("a cut-out opens its contactor whatever the coil says, until it is reset by hand in the cold") {
  auto spec = open_loop();
  spec.zones[0].cut_out = bench::CutOutSpec{60.0, "main"};
  Plant plant(spec);
  plant.command(1, 1000);
  for (int i = 0; i < 600 && plant.value("oven.cut_out") == 0.0; ++i) plant.run(100ms);
  REQUIRE(plant.value("oven.cut_out") == 1.0);
  CHECK(plant.value("main.closed") == 0.0);
  plant.bench.reset_cut_out(0, plant.loop.now());
  CHECK(plant.journal_says("cut-out reset refused"));
  CHECK(plant.value("oven.cut_out") == 1.0);
  plant.run(1s);
  CHECK(plant.value("heater.load_power") == 0.0);
  plant.command(1, 0);
  plant.run(600s);
  plant.bench.reset_cut_out(0, plant.loop.now());
  CHECK(plant.value("oven.cut_out") == 0.0);
  CHECK(plant.value("main.closed") == 1.0);
}

TEST_CASE("units that share never conduct together when their duties fit, and the others do") {
  for (const bool shared : {true, false}) {
    Plant plant(two_in_bursts(shared));
    plant.command(1, 400);
    plant.command(2, 500);
    plant.run(2s);
    int together = 0;
    for (int cycle = 0; cycle < 200; ++cycle) {
      plant.run(20ms);
      const auto first = plant.bench.waves(0).current_A[0];
      const auto second = plant.bench.waves(1).current_A[0];
      const auto flows = [](const plant::Waves::Wave& wave) {
        for (const double at : wave)
          if (std::abs(at) > 1.0) return true;
        return false;
      };
      together += flows(first) && flows(second) ? 1 : 0;
    }
    CAPTURE(shared);
    CHECK((together == 0) == shared);
    // The duty is what was asked for all the same. At full conduction V^2/R of the star: 400^2/5.5 = 29.09
    // kW, 400^2/22 = 7.27 kW.
    const double first_J = 0.4 * 400.0 * 400.0 / 5.5 * plant.value("heater.run_time");
    const double second_J = 0.5 * 400.0 * 400.0 / 22.0 * plant.value("second.run_time");
    CHECK(plant.value("heater.energy") == doctest::Approx(first_J).epsilon(0.05));
    CHECK(plant.value("second.energy") == doctest::Approx(second_J).epsilon(0.05));
  }
}

TEST_CASE("misfiring is chance that a seed repeats") {
  const auto course = [](std::uint64_t seed) {
    Plant plant(open_loop(), seed);
    plant.command(1, 1000);
    plant.run(1s);
    plant.bench.set_misfiring(0, 1, true, 0.5, plant.loop.now(), "heater.l2", "misfires");
    std::vector<double> powers;
    for (int i = 0; i < 50; ++i) {
      plant.run(20ms);
      powers.push_back(plant.value("heater.load_power_l2"));
    }
    return powers;
  };
  CHECK(course(3) == course(3));
  CHECK(course(3) != course(4));
}

TEST_CASE("the incoming meter adds up what the units take, and its power factor is what they leave of it") {
  // Four-wire star at 90 degrees: power factor sqrt(1/2) and as much in the neutral as in a fully conducting
  // line (M. H. Rashid, Power Electronics, ch. 11; the neutral by integration).
  auto spec = open_loop();
  spec.units[0].unit.firing.held_angle_deg = 90.0;
  Plant plant(spec);
  plant.command(1, 1000);
  plant.run(2s);
  CHECK(plant.value("supply.power") == doctest::Approx(plant.value("heater.load_power")));
  CHECK(plant.value("supply.power_factor") == doctest::Approx(std::sqrt(0.5)).epsilon(1e-6));
  CHECK(plant.value("heater.power_factor") == doctest::Approx(std::sqrt(0.5)).epsilon(1e-6));
  CHECK(plant.value("supply.current_l2") == doctest::Approx(plant.value("heater.line_current_l2")));
  CHECK(plant.value("supply.neutral_current") == doctest::Approx(400.0 / std::sqrt(3.0) / 5.5).epsilon(1e-5));
}

TEST_CASE("one cycle as samples has the RMS that the registers show") {
  auto spec = open_loop();
  spec.units[0].unit.firing.held_angle_deg = 60.0;
  spec.units[0].load.connection = plant::Connection::star_3_wire;
  Plant plant(spec);
  plant.command(1, 1000);
  plant.run(2s);
  const auto waves = plant.bench.waves(0);
  double square = 0.0;
  for (const double at : waves.current_A[2]) square += at * at;
  CHECK(std::sqrt(square / plant::Waves::kSamples) ==
        doctest::Approx(plant.value("heater.load_current_l3")).epsilon(0.01));
}

TEST_CASE("an offset of a sensor is measured and not true, and a broken one has no value") {
  Plant plant(open_loop());
  plant.run(1s);
  plant.bench.change_sensor(0, {false, 7.5}, plant.loop.now(), "shows too much");
  CHECK(plant.value("oven.measured") == doctest::Approx(plant.value("oven.temperature") + 7.5));
  plant.bench.change_sensor(0, {true, 0.0}, plant.loop.now(), "broken");
  CHECK(std::isnan(plant.value("oven.measured")));
  plant.run(100ms);
  CHECK((static_cast<std::uint32_t>(plant.value("heater.warnings")) &
         registers::bit(registers::Warning::sensor_fault)) != 0);
}

TEST_CASE("elements are as old from the start as the file says") {
  auto spec = open_loop();
  spec.units[0].load.ageing = {1.25, 1.25, 1.25};
  Plant plant(spec);
  plant.command(1, 1000);
  plant.run(1s);
  CHECK(plant.value("heater.load_resistance") == doctest::Approx(1.25 * 22.0 / 4.0));
}

TEST_CASE("a meter with a window of one cycle shows a dip that comes on a whole cycle") {
  auto spec = open_loop();
  spec.units[0].unit.averaging = 20ms;
  Plant plant(spec);
  plant.command(1, 1000);
  plant.run(5s);
  auto dipped = plant.bench.supply_state();
  dipped.share = {0.8, 0.8, 0.8};
  plant.bench.change_supply(dipped, plant.loop.now(), "supply", "dips");
  plant.run(1s);
  CHECK(plant.value("heater.supply_voltage_l1") == doctest::Approx(0.8 * 400.0 / std::sqrt(3.0)));
  CHECK(plant.value("heater.load_power") == doctest::Approx(0.64 * 400.0 * 400.0 / 5.5));
}

TEST_CASE("a burst that goes from a part to all of its base is on within one base") {
  auto spec = open_loop();
  spec.units[0].unit.firing.mode = unit::FiringMode::burst;
  spec.units[0].unit.firing.base = 20s;
  spec.units[0].unit.protections[static_cast<std::size_t>(unit::Protection::partial_load_failure)].on = false;
  Plant plant(spec);
  plant.command(1, 100);
  plant.run(3500ms);
  plant.command(1, 1000);
  plant.run(17s);
  CHECK(plant.value("heater.load_power") == doctest::Approx(400.0 * 400.0 / 5.5));
}

TEST_CASE("a contactor that a cut-out holds open is not told to have closed") {
  auto spec = testing::wired_bench();
  spec.zones[0].cut_out = bench::CutOutSpec{26.0, "main"};
  spec.zones[0].parameters.start_degC = 30.0;
  Plant plant(spec);
  plant.run(1s);
  plant.bench.close_wire(bench::find_wire(plant.bench.spec(), "main").value(), plant.loop.now());
  CHECK(plant.journal_says("the cut-out of oven holds it open"));
  CHECK(plant.value("main.closed") == 0.0);
}

TEST_CASE("what a transformer's windings lose does not heat the zone") {
  // Winding and referred load of 16 ohm each in series: half of the power each.
  auto spec = open_loop();
  spec.units[0].load.elements = 1;
  spec.units[0].load.cold_resistance_ohm = {4.0, 4.0, 4.0};
  plant::TransformerParameters transformer;
  transformer.ratio = 2.0;
  transformer.winding_resistance_ohm = 16.0;
  transformer.magnetising_inductance_H = 1e4;  // next to no magnetising current
  spec.units[0].load.transformer = transformer;
  Plant plant(spec);
  plant.command(1, 1000);
  plant.run(60s);
  CHECK(plant.value("heater.energy") > 1e5);
  CHECK(plant.bench.heat_balance().given_J ==
        doctest::Approx(0.5 * plant.value("heater.energy")).epsilon(0.005));
}

TEST_CASE("a unit between two lines sees no supply when one of them is lost") {
  auto spec = open_loop();
  spec.units[0].load.connection = plant::Connection::single_phase;
  spec.units[0].load.across = plant::Across::l1_l2;
  spec.units[0].load.leakage_A = 0.01;
  Plant plant(spec);
  plant.command(1, 1000);
  plant.run(1s);
  CHECK(plant.value("heater.supply_voltage_l1") == doctest::Approx(400.0));
  auto lost = plant.bench.supply_state();
  lost.open = {false, true, false};
  plant.bench.change_supply(lost, plant.loop.now(), "supply.l2", "lost");
  plant.run(2s);
  CHECK(plant.value("heater.supply_voltage_l1") < 20.0);
  CHECK((static_cast<std::uint32_t>(plant.value("heater.warnings")) &
         registers::bit(registers::Warning::supply_absent)) != 0);
}

TEST_CASE("a three-wire unit that has one line left sees no supply") {
  auto spec = open_loop();
  spec.units[0].load.connection = plant::Connection::star_3_wire;
  spec.units[0].load.leakage_A = 0.01;
  Plant plant(spec);
  plant.command(1, 600);
  plant.run(1s);
  auto lost = plant.bench.supply_state();
  lost.open = {false, true, true};
  plant.bench.change_supply(lost, plant.loop.now(), "supply", "two lines lost");
  plant.run(1s);
  CHECK((static_cast<std::uint32_t>(plant.value("heater.warnings")) &
         registers::bit(registers::Warning::supply_absent)) != 0);
}
