#include <cmath>
#include <numbers>

#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"
#include "tests/support/solved.hpp"

using namespace emberline::plant;

namespace {

LoadResult balanced_load(Connection connection, double line_line_V, double element_ohm, double angle_deg) {
  SupplyParameters supply;
  supply.voltage_V = line_line_V;
  LoadParameters load;
  load.connection = connection;
  load.material = find_material("constant");
  load.cold_resistance_ohm = alike(element_ohm);
  load.thyristor_drop_V = 0.0;
  Network network(supply, {load});
  Conduction state;
  state.firing_angle_deg = angle_deg;
  return solved(network, {state}).loads[0];
}

}  // namespace

TEST_CASE("a four-wire star's neutral carries what integration of the waveforms gives") {
  // Each phase follows the single-phase law; the neutral was integrated by an independent program with
  // 720,000 samples a cycle, agreement 2e-5. At 90 degrees it carries the full-load phase current; from 120
  // degrees on the pulses no longer overlap, and it is sqrt 3 times the phase current.
  constexpr struct {
    double angle_deg, neutral_per_full, neutral_per_phase;
  } rows[] = {{0, 0.0, 0.0},           {30, 0.29411, 0.29845},  {45, 0.52205, 0.54751},
              {60, 0.76584, 0.85383},  {75, 0.94298, 1.15817},  {90, 1.0, 1.41421},
              {105, 0.94298, 1.62416}, {120, 0.76584, 1.73205}, {135, 0.52205, 1.73205},
              {150, 0.29411, 1.73205}};
  const double full_A = balanced_load(Connection::star_4_wire, 400.0, 16.0, 0.0).line_current_A[0];
  for (const auto& row : rows) {
    CAPTURE(row.angle_deg);
    const auto load = balanced_load(Connection::star_4_wire, 400.0, 16.0, row.angle_deg);
    CHECK(std::abs(load.neutral_current_A / full_A - row.neutral_per_full) <= 2e-5);
    CHECK(std::abs(load.neutral_current_A / load.line_current_A[1] - row.neutral_per_phase) <= 2e-5);
    CHECK(load.legs[0].current_A == load.legs[2].current_A);
  }
}

TEST_CASE("each leg of a four-wire star follows the single-phase law") {
  // Closed form of Rashid, Power Electronics, ch. 11, 6 digits.
  constexpr struct {
    double angle_deg, voltage_share;
  } rows[] = {{0, 1.0}, {30, 0.985477}, {60, 0.896939}, {90, 0.707107}, {120, 0.442155}, {150, 0.169807}};
  for (const auto& row : rows) {
    CAPTURE(row.angle_deg);
    const auto load = balanced_load(Connection::star_4_wire, 400.0, 16.0, row.angle_deg);
    for (const auto& leg : load.legs)
      CHECK(std::abs(leg.voltage_V / (400.0 / std::numbers::sqrt3) - row.voltage_share) <= 1e-6);
  }
}

TEST_CASE("balanced star and delta loads take the textbook powers") {
  // Three-phase circuit theory (any textbook): star V^2/R, delta 3 V^2/R, line current sqrt 3 V/R.
  struct Case {
    const char* what;
    Connection connection;
    double supply_V, power_W, line_A, element_A;
  };
  const Case cases[] = {
      {"star, 400 V, 16 ohm", Connection::star_4_wire, 400, 10000, 14.434, 14.434},
      {"star, supply 10 % high: power x 1.21", Connection::star_4_wire, 440, 12100, 14.434 * 1.1,
       14.434 * 1.1},
      {"star, supply 10 % low: power x 0.81", Connection::star_4_wire, 360, 8100, 14.434 * 0.9, 14.434 * 0.9},
      {"delta, 400 V, 16 ohm", Connection::delta, 400, 30000, 43.301, 25.000},
  };
  for (const auto& row : cases) {
    CAPTURE(row.what);
    const auto load = balanced_load(row.connection, row.supply_V, 16.0, 0.0);
    CHECK(total_W(load) == doctest::Approx(row.power_W).epsilon(1e-9));
    for (std::size_t phase = 0; phase < 3; ++phase) {
      CHECK(std::abs(load.line_current_A[phase] - row.line_A) <= 6e-4);
      CHECK(std::abs(load.legs[phase].current_A - row.element_A) <= 6e-4);
    }
    CHECK(load.neutral_current_A <= 1e-9);
  }
}

TEST_CASE("a delta load that is off takes nothing") {
  const auto load = balanced_load(Connection::delta, 400.0, 16.0, 180.0);
  CHECK(total_W(load) < 1e-9);
  CHECK(load.line_current_A[0] < 1e-6);
  CHECK(load.leg_resistance_ohm[2] == 16.0);
}
