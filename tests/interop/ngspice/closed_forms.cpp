#include <array>
#include <cmath>
#include <numbers>

#include <doctest/doctest.h>

#include "tests/interop/ngspice/power_stage.hpp"

using namespace emberline;
using plant::Connection;

// Is ngspice, with thyristors made of a diode and a switch, right itself? It is held against what is printed
// or follows in closed form, before anything else is held against it.

namespace {

spice::PowerStage stage(plant::System system, double supply_V, Connection connection, double element_ohm,
                        double angle_deg) {
  spice::PowerStage result;
  result.supply.system = system;
  result.supply.voltage_V = supply_V;
  plant::LoadParameters load;
  load.connection = connection;
  load.material = plant::find_material("constant");
  load.cold_resistance_ohm = {element_ohm, element_ohm, element_ohm};
  load.thyristor_drop_V = 0.0;
  result.loads = {load};
  plant::Conduction state;
  state.firing_angle_deg = angle_deg;
  result.cycles.assign(2, {state});
  return result;
}

plant::LoadResult last_cycle(const spice::PowerStage& stage) {
  return spice::simulate_cycles(stage, stage.cycles.size() - 1).back().loads[0];
}

constexpr double kShare = 5e-4;  // of the value itself, or of full conduction's where that is more

}  // namespace

TEST_CASE("ngspice gives the single-phase law of a resistive load") {
  // (V/Vs)^2 = 1 - a/pi + sin(2a)/(2 pi): Rashid, Power Electronics, ch. 11, 6 digits.
  constexpr struct {
    double angle_deg, voltage_share;
  } rows[] = {{0, 1.0}, {30, 0.985477}, {60, 0.896939}, {90, 0.707107}, {120, 0.442155}, {135, 0.301405}};
  for (const auto& row : rows) {
    CAPTURE(row.angle_deg);
    const auto load =
        last_cycle(stage(plant::System::single_phase, 120.0, Connection::single_phase, 10.0, row.angle_deg));
    CHECK(load.legs[0].voltage_V == doctest::Approx(120.0 * row.voltage_share).epsilon(kShare));
    CHECK(load.legs[0].power_W ==
          doctest::Approx(1440.0 * row.voltage_share * row.voltage_share).epsilon(kShare));
  }
}

TEST_CASE("ngspice gives the law of a star without neutral in each mode of conduction") {
  // Rashid, Power Electronics, ch. 11 and example 11.3: three formulas for 0-60, 60-90, 90-150 degrees.
  constexpr struct {
    double angle_deg, voltage_share;
  } rows[] = {{0, 1.0},       {30, 0.978135},  {45, 0.929372},  {60, 0.840683}, {75, 0.707107},
              {90, 0.541527}, {105, 0.369144}, {120, 0.207970}, {135, 0.075059}};
  for (const auto connection : {Connection::star_3_wire, Connection::delta}) {
    for (const auto& row : rows) {
      CAPTURE(row.angle_deg);
      const auto load = last_cycle(stage(plant::System::three_phase, 400.0, connection, 16.0, row.angle_deg));
      const double full_V = connection == Connection::delta ? 400.0 : 400.0 / std::numbers::sqrt3;
      for (const auto& leg : load.legs)
        CHECK(std::abs(leg.voltage_V / full_V - row.voltage_share) <
              kShare * std::max(row.voltage_share, 0.2));
    }
  }
}

TEST_CASE("ngspice gives a four-wire star's neutral and an open delta's lines") {
  // Each phase follows the single-phase law; neutral and line currents by integration of the waveforms with
  // 720,000 samples a cycle in a program of its own, agreement 2e-5.
  constexpr struct {
    double angle_deg, neutral_per_phase, line_per_element;
  } rows[] = {
      {30, 0.29845, 1.72346}, {60, 0.85383, 1.66042}, {90, 1.41421, 1.52753}, {120, 1.73205, 1.41421}};
  for (const auto& row : rows) {
    CAPTURE(row.angle_deg);
    const auto star =
        last_cycle(stage(plant::System::three_phase, 400.0, Connection::star_4_wire, 16.0, row.angle_deg));
    CHECK(star.neutral_current_A ==
          doctest::Approx(row.neutral_per_phase * star.line_current_A[0]).epsilon(kShare));
    const auto delta =
        last_cycle(stage(plant::System::three_phase, 400.0, Connection::open_delta, 16.0, row.angle_deg));
    CHECK(delta.line_current_A[1] ==
          doctest::Approx(row.line_per_element * delta.legs[2].current_A).epsilon(kShare));
  }
}

TEST_CASE("ngspice gives the powers of star and delta with an element open or a line lost") {
  // Three-phase circuit theory (any textbook): 400 V, 16 ohm.
  struct Row {
    const char* what;
    Connection connection;
    bool element_open, line_lost;
    double power_W;
    std::array<double, 3> line_A;
  };
  const Row rows[] = {
      {"star without neutral, whole", Connection::star_3_wire, false, false, 10000, {14.434, 14.434, 14.434}},
      {"star without neutral, element open", Connection::star_3_wire, true, false, 5000, {0, 12.5, 12.5}},
      {"star with neutral, element open", Connection::star_4_wire, true, false, 6666.67, {0, 14.434, 14.434}},
      {"delta, element L1-L2 open", Connection::delta, true, false, 20000, {25, 25, 43.301}},
      {"star without neutral, line lost", Connection::star_3_wire, false, true, 5000, {0, 12.5, 12.5}},
      {"delta, line lost", Connection::delta, false, true, 15000, {0, 37.5, 37.5}},
  };
  for (const auto& row : rows) {
    CAPTURE(std::string(row.what));
    auto circuit = stage(plant::System::three_phase, 400.0, row.connection, 16.0, 0.0);
    circuit.supply_state.open[0] = row.line_lost;
    for (auto& cycle : circuit.cycles) cycle[0].legs[0].elements_open = row.element_open ? 1 : 0;
    const auto load = last_cycle(circuit);
    CHECK(load.legs[0].power_W + load.legs[1].power_W + load.legs[2].power_W ==
          doctest::Approx(row.power_W).epsilon(kShare));
    for (std::size_t line = 0; line < 3; ++line)
      CHECK(std::abs(load.line_current_A[line] - row.line_A[line]) < kShare * 43.0);
  }
}

TEST_CASE("ngspice gives the textbook's resistive-inductive load") {
  // Rashid, Power Electronics, ch. 11, resistive-inductive example: 120 V, 60 Hz, 2.5 ohm, 6.5 mH, 90
  // degrees; extinction at 220.41 degrees. RMS and mean current of one thyristor by the closed form of its
  // current.
  auto circuit = stage(plant::System::single_phase, 120.0, Connection::single_phase, 2.5, 90.0);
  circuit.supply.frequency_Hz = circuit.supply_state.frequency_Hz = 60.0;
  circuit.loads[0].inductance_H[0] = 6.5e-3;
  const auto load = last_cycle(circuit);
  CHECK(load.legs[0].current_A == doctest::Approx(21.311).epsilon(kShare));
  CHECK(load.legs[0].power_W == doctest::Approx(1135.4).epsilon(2 * kShare));
  CHECK(load.legs[0].voltage_V == doctest::Approx(90.390).epsilon(kShare));
  CHECK(load.pairs[0].mean_A == doctest::Approx(2 * 8.226).epsilon(kShare));
}

TEST_CASE("ngspice gives the direct current of a half-wave") {
  // One thyristor: mean (sqrt 2/(2 pi)) (1 + cos a) Vs; with a diode as its partner the other way round
  // (1 - cos a). Half-wave rectifiers, any textbook.
  auto circuit = stage(plant::System::single_phase, 230.0, Connection::single_phase, 10.0, 90.0);
  for (auto& cycle : circuit.cycles) cycle[0].legs[0].backward_open = true;
  CHECK(last_cycle(circuit).pairs[0].dc_A == doctest::Approx(0.225079 * 23.0).epsilon(kShare));
  for (auto& cycle : circuit.cycles) {
    cycle[0].legs[0].backward_open = false;
    cycle[0].legs[0].backward_shorted = true;
  }
  const auto load = last_cycle(circuit);
  CHECK(load.pairs[0].dc_A == doctest::Approx(-0.225079 * 23.0).epsilon(kShare));
  CHECK(load.legs[0].voltage_V == doctest::Approx(0.866025 * 230.0).epsilon(kShare));
}
