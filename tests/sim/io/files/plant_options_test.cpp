#include <array>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/registers/codec.hpp"
#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;
using namespace std::chrono_literals;

// What a file says of the plant has to arrive where it belongs, in SI.

namespace {

bench::BenchSpec everything() {
  auto loaded = io::load_bench(EMBERLINE_SOURCE_DIR "/tests/sim/io/files/samples/bench.yaml");
  if (!loaded) FAIL(loaded.error().front().message);
  return std::move(loaded).value();
}

bench::BenchSpec load_with(const std::string& from, const std::string& to) {
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  auto loaded = io::load_bench(workspace.write("bench.yaml", test::replaced(test::kBench, from, to)));
  if (!loaded) FAIL(workspace.lines(loaded.error()).front());
  return std::move(loaded).value();
}

const unit::ProtectionSpec& of(const unit::UnitSpec& unit, unit::Protection protection) {
  return unit.protections.at(static_cast<std::size_t>(protection));
}

const std::string kLoad =
    "load: { connection: star-4-wire, elements: 4 in parallel, cold_resistance: 22 ohm, heats: soak }";
const std::string kLimits = "limits: { current: 50 A }";

}  // namespace

TEST_CASE("an unbalanced supply arrives with its phases, its rotation and its source") {
  const auto spec = everything();
  CHECK(spec.supply.phase_share[0] == doctest::Approx(1.0));
  CHECK(spec.supply.phase_share[1] == doctest::Approx(0.97));
  CHECK(spec.supply.phase_share[2] == doctest::Approx(1.01));
  CHECK(spec.supply.reversed);
  CHECK(spec.supply.resistance_ohm == doctest::Approx(8e-3));
  CHECK(spec.supply.inductance_H == doctest::Approx(40e-6));
  CHECK(spec.demand_interval == 10min);
  const auto plain = load_with(kLimits, kLimits);
  CHECK(plain.supply.phase_share == std::array{1.0, 1.0, 1.0});
  CHECK_FALSE(plain.supply.reversed);
  CHECK(plain.supply.inductance_H == 0.0);
  CHECK(plain.demand_interval == 15min);
}

TEST_CASE("walls, cut-outs and neighbours arrive in their zones") {
  const auto spec = everything();
  const auto& wall = spec.zones.at(1).parameters.wall;
  REQUIRE(wall);
  CHECK(wall->area_m2 == 4.0);
  CHECK(wall->inside_film_W_per_m2K == 15.0);
  CHECK(wall->outside_film_W_per_m2K == 9.0);
  REQUIRE(wall->layers.size() == 1);
  CHECK(wall->layers[0].thickness_m == doctest::Approx(0.115));
  CHECK(wall->layers[0].conductivity_W_per_mK == 0.3);
  CHECK(wall->layers[0].density_kg_per_m3 == 780.0);
  CHECK(wall->layers[0].specific_heat_J_per_kgK == doctest::Approx(1050.0));
  CHECK(spec.zones[1].parameters.loss_W_per_K == 0.0);
  REQUIRE(spec.zones[1].cut_out);
  CHECK(spec.zones[1].cut_out->above_degC == 700.0);
  CHECK(spec.zones[1].cut_out->opens == "main");
  CHECK_FALSE(spec.zones[0].parameters.wall);
  CHECK_FALSE(spec.zones[0].cut_out);
  REQUIRE(spec.neighbours.size() == 1);
  CHECK(spec.neighbours[0].a == 0);
  CHECK(spec.neighbours[0].b == 1);
  CHECK(spec.neighbours[0].conductance_W_per_K == 12.0);
  CHECK(spec.neighbours[0].opening_m2 == 0.2);
  CHECK(spec.neighbours[0].emissivity == doctest::Approx(0.8));
}

TEST_CASE("the element of a zone is that of its loads, unless a load has its own") {
  const std::string zone_element = "element: { mass: 3 kg, specific_heat: 460 J/kgK, conductance: 90 W/K }";
  const auto from_zone = load_with("sensor: { lag: 12 s }", zone_element).units.at(0).element;
  CHECK(from_zone.heat_capacity_J_per_K == doctest::Approx(1380.0));
  CHECK(from_zone.coupling_W_per_K == 90.0);
  const auto own = everything().units.at(0).element;  // its zone has one, too
  CHECK(own.heat_capacity_J_per_K == doctest::Approx(9000.0));
  CHECK(own.coupling_W_per_K == 220.0);
  CHECK(own.radiating_area_m2 == 0.2);
  CHECK(own.emissivity == doctest::Approx(0.7));
  CHECK(everything().units.at(1).element.heat_capacity_J_per_K == 0.0);  // heats nothing
}

TEST_CASE("every connection of a load arrives, with the legs it has") {
  struct Case {
    const char* words;
    plant::Connection connection;
    std::size_t legs;
  };
  const Case cases[] = {{"star-4-wire", plant::Connection::star_4_wire, 3},
                        {"star-3-wire", plant::Connection::star_3_wire, 3},
                        {"delta", plant::Connection::delta, 3},
                        {"open-delta", plant::Connection::open_delta, 3},
                        {"single-phase, across: l1-n", plant::Connection::single_phase, 1}};
  for (const auto& [words, connection, legs] : cases) {
    CAPTURE(std::string(words));
    const auto load =
        load_with("connection: star-4-wire", "connection: " + std::string(words)).units.at(0).load;
    CHECK(load.connection == connection);
    CHECK(load.legs() == legs);
    CHECK(load.controlled_legs == 3);
    CHECK(load.leakage_A == doctest::Approx(0.010));  // what stands there when a file says nothing
    CHECK(load.ageing == std::array{1.0, 1.0, 1.0});
    CHECK(load.inductance_H == std::array{0.0, 0.0, 0.0});
    CHECK_FALSE(load.transformer);
  }
}

TEST_CASE("a single-phase load hangs where the file says") {
  using plant::Across;
  const std::pair<const char*, Across> cases[] = {{"l1-n", Across::l1_n},   {"l2-n", Across::l2_n},
                                                  {"l3-n", Across::l3_n},   {"l1-l2", Across::l1_l2},
                                                  {"l2-l3", Across::l2_l3}, {"l3-l1", Across::l3_l1}};
  for (const auto& [word, across] : cases)
    CHECK(load_with("connection: star-4-wire", "connection: single-phase, across: " + std::string(word))
              .units.at(0)
              .load.across == across);
}

TEST_CASE("values of each leg arrive in the order of the legs") {
  const auto load =
      load_with(
          kLoad,
          "load: { connection: star-3-wire, cold_resistance: [8.6 ohm, 12.3 ohm, 19.7 ohm], inductance: [1 "
          "mH, 2 mH, 3 mH], ageing: [100 %, 110 %, 150 %], leakage: 0 mA }")
          .units.at(0)
          .load;
  CHECK(load.cold_resistance_ohm == std::array{8.6, 12.3, 19.7});
  for (std::size_t leg = 0; leg < 3; ++leg)
    CHECK(load.inductance_H[leg] == doctest::Approx(1e-3 * static_cast<double>(leg + 1)));
  CHECK(load.ageing[0] == doctest::Approx(1.0));
  CHECK(load.ageing[1] == doctest::Approx(1.1));
  CHECK(load.ageing[2] == doctest::Approx(1.5));
  CHECK(load.leakage_A == 0.0);
  const auto direct = everything().units.at(1).load;
  CHECK(direct.controlled_legs == 2);
  CHECK(direct.cold_resistance_ohm == std::array{30.0, 31.0, 32.0});
  const auto single =
      load_with(kLoad, "load: { connection: single-phase, across: l2-n, cold_resistance: [8 ohm] }");
  CHECK(single.units.at(0).load.cold_resistance_ohm[0] == 8.0);
}

TEST_CASE("a transformer arrives in the load, referred to the primary as it stands") {
  const auto transformer = everything().units.at(2).load.transformer;
  REQUIRE(transformer);
  CHECK(transformer->ratio == 8.3);
  CHECK(transformer->winding_resistance_ohm == doctest::Approx(0.06));
  CHECK(transformer->leakage_inductance_H == doctest::Approx(1.2e-3));
  CHECK(transformer->magnetising_inductance_H == doctest::Approx(1.4));
  CHECK(transformer->knee == doctest::Approx(1.15));
  CHECK(transformer->saturated_inductance_H == doctest::Approx(3e-3));
  CHECK(transformer->remanence == doctest::Approx(0.4));
  const auto plain = load_with("cold_resistance: 22 ohm",
                               "cold_resistance: 22 ohm, transformer: { ratio: 2, remanence: 30 % }")
                         .units.at(0)
                         .load.transformer;
  REQUIRE(plain);
  CHECK(plain->remanence == doctest::Approx(0.3));
  CHECK(plain->knee == plant::TransformerParameters{}.knee);
}

TEST_CASE("firing and control arrive with all they can say") {
  const auto spec = everything();
  const auto& first = spec.units.at(0).unit;
  CHECK(first.firing.soft_start == 200ms);
  CHECK(first.control.response == 300ms);
  CHECK(first.control.gain == 2.0);
  CHECK_FALSE(first.control.supply_compensation);
  CHECK(spec.units.at(1).unit.control.supply_compensation);
  const auto& burst = spec.units.at(2).unit.firing;
  CHECK(burst.mode == unit::FiringMode::burst);
  CHECK(burst.base == 2s);
  CHECK(burst.first_angle_deg == 80.0);
  CHECK_FALSE(spec.units.at(3).unit.firing.first_angle_deg);
  const auto firing_with = [](const char* firing) {
    return load_with("mode: phase-angle, ramp: 500 ms", firing).units.at(0).unit.firing;
  };
  CHECK(firing_with("mode: burst").base == 1s);
  CHECK(firing_with("mode: burst, base: 2 s, soft_start: 500 ms").soft_start == 500ms);
  CHECK(firing_with("mode: phase-angle, soft_start: 30 s").soft_start == 30s);
  REQUIRE(spec.load_sharing.size() == 1);
  CHECK(spec.load_sharing[0].name == "ring");
  CHECK(spec.load_sharing[0].units == std::vector<std::string>{"first-bank", "second-bank"});
}

TEST_CASE("phase-angle firing takes three wires, and holds any angle on them") {
  const auto spec = load_with("firing: { mode: phase-angle, ramp: 500 ms }",
                              "firing: { mode: phase-angle, angle: 150 deg }");
  CHECK(spec.units.at(0).unit.firing.held_angle_deg == 150.0);
  for (const std::string connection : {"star-3-wire", "delta"})
    CHECK(load_with("connection: star-4-wire", "connection: " + connection).units.at(0).load.three_wire());
}

TEST_CASE("heat sink and fuse arrive in the unit, and are not there unless they are written") {
  const auto spec = everything();
  const auto& sink = spec.units.at(0).heat_sink;
  REQUIRE(sink);
  CHECK(sink->resistance_K_per_W == 0.25);
  CHECK(sink->heat_capacity_J_per_K == doctest::Approx(1200.0));
  CHECK(sink->ambient_degC == 30.0);
  CHECK(sink->without_fan == 3.0);
  const auto& fuse = spec.units.at(0).fuse;
  REQUIRE(fuse);
  CHECK(fuse->rating_A == 63.0);
  CHECK(fuse->melting_A2s == doctest::Approx(5000.0));
  CHECK_FALSE(spec.units.at(1).heat_sink);
  CHECK_FALSE(spec.units.at(1).fuse);
  const auto defaults = load_with(kLimits, "heat_sink: { resistance: 1 K/W }").units.at(0).heat_sink;
  REQUIRE(defaults);
  CHECK(defaults->ambient_degC == plant::HeatSinkParameters{}.ambient_degC);
}

TEST_CASE("protections arrive with threshold, delay, hysteresis and reset") {
  using unit::Protection;
  const auto spec = everything();
  const auto& unit = spec.units.at(0).unit;
  const auto& frequency = of(unit, Protection::supply_frequency);
  CHECK(frequency.threshold == 2.0);
  CHECK(frequency.after == 2s);
  CHECK(frequency.hysteresis == doctest::Approx(0.2));
  const auto& warm = of(unit, Protection::heatsink_warm);
  CHECK(warm.threshold == 75.0);
  CHECK(warm.hysteresis == 4.0);
  const auto& current = of(unit, Protection::over_current);
  CHECK(current.threshold == doctest::Approx(2.5));
  CHECK(current.after == 40ms);
  CHECK(current.reset_by == std::vector{unit::ResetBy::reset_terminal, unit::ResetBy::reset_register});
  CHECK(of(unit, Protection::fuse_open).after == 100ms);
  CHECK(of(unit, Protection::thyristor_shorted).threshold == doctest::Approx(0.08));
  CHECK(unit.learn_on == unit::LearnOn::command);
}

TEST_CASE("a protection is on with its defaults unless it is switched off, and keys switch it on") {
  using unit::Protection;
  const auto defaults = unit::default_protections();
  const auto spec = everything();
  const auto& unit = spec.units.at(1).unit;
  CHECK_FALSE(of(unit, Protection::phase_lost).on);
  CHECK(of(unit, Protection::over_current).on);
  CHECK(of(unit, Protection::load_open).on);
  CHECK(of(unit, Protection::over_current).threshold ==
        defaults.at(static_cast<std::size_t>(Protection::over_current)).threshold);
  CHECK(unit.learn_on == unit::LearnOn::first_run);
  const auto only_delay = load_with(kLimits, "protections: { supply-low: { after: 9 s } }");
  CHECK(of(only_delay.units.at(0).unit, Protection::supply_low).threshold ==
        defaults.at(static_cast<std::size_t>(Protection::supply_low)).threshold);
  CHECK(of(only_delay.units.at(0).unit, Protection::supply_low).after == 9s);
  // What is switched off needs nothing to look at.
  CHECK_FALSE(of(load_with(kLimits, "protections: { overload: off, heatsink-warm: off }").units.at(0).unit,
                 Protection::overload)
                  .on);
}

TEST_CASE("what a broken sensor reads is a number as carried or a value with its unit") {
  const double nothing = std::numeric_limits<double>::quiet_NaN();
  const auto reads = [&](const std::string& keys, std::size_t words = 1) {
    const auto layout =
        load_with("as: s16, scale: 0.1 degC }, 1: soak.temperature", keys + " }, 2: soak.temperature")
            .io_blocks.at(0)
            .input.at(0)
            .layout;
    const auto encoded = registers::encode(nothing, layout);
    return registers::decode({encoded.words.data(), words}, {.type = layout.type});
  };
  CHECK(reads("as: s16, scale: 0.1 degC") == 32767.0);
  CHECK(reads("as: s16, scale: 0.1 degC, broken: -32768") == -32768.0);
  CHECK(reads("as: s16, scale: 0.1 degC, broken: -40 degC") == -400.0);
  CHECK(reads("as: u16, scale: 0.1 degC, broken: 0xFFFE") == 65534.0);
  CHECK(std::isnan(reads("as: f32", 2)));
  CHECK(reads("as: f32, broken: -999.5", 2) == -999.5);
}

TEST_CASE("a row of a register table can say what a broken sensor reads") {
  const test::Workspace workspace;
  const auto text = test::replaced(test::kTable, "point: load_current_l1, as: u16, scale: 0.1 A",
                                   "point: load_current_l1, as: u16, scale: 0.1 A, broken: 6000 A");
  const auto loaded = io::load_register_table(workspace.write("table.yaml", text));
  REQUIRE(loaded.has_value());
  const auto* row = (*loaded)->find(registers::Point::load_current_l1);
  REQUIRE(row != nullptr);
  CHECK(row->layout.broken == 60000.0);
}

TEST_CASE("every warning and trip can be waited for and acts on a relay") {
  for (const auto words : {registers::warning_words(), registers::trip_words()}) {
    for (const auto& word : words) {
      CAPTURE(std::string(word.first));
      const auto relay = load_with("on: [comms-loss]", "on: [" + std::string(word.first) + "]")
                             .units.at(0)
                             .unit.relays.at(0);
      const auto bit = 1U << static_cast<unsigned>(word.second);
      CHECK(((words.data() == registers::trip_words().data() ? relay.on_trips : relay.on_warnings) & bit) !=
            0);
    }
  }
}
