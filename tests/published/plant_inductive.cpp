#include <cmath>
#include <numbers>

#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"
#include "tests/support/plant_loads.hpp"

using namespace emberline::plant;

namespace {
constexpr double kPi = std::numbers::pi;
constexpr double kDegree = kPi / 180.0;

/// R-L of 1 ohm impedance at this angle, single-phase, 100 V.
LoadResult with_phase_angle(double phi_deg, double alpha_deg) {
  auto load = ideal_load(Connection::single_phase, std::cos(phi_deg * kDegree));
  load.inductance_H[0] = std::sin(phi_deg * kDegree) / (2.0 * kPi * 50.0);
  return solved_alone(single_phase_supply(100.0), load, fired_at(alpha_deg));
}

/// The end of conduction from the load's voltage: (V/Vs)^2 = (b - a + (sin 2a - sin 2b)/2)/pi.
double extinction_deg(double alpha_deg, double voltage_share) {
  const double a = alpha_deg * kDegree;
  double low = kPi;
  double high = a + kPi;
  for (int round = 0; round < 60; ++round) {
    const double b = 0.5 * (low + high);
    const double square = (b - a + 0.5 * (std::sin(2.0 * a) - std::sin(2.0 * b))) / kPi;
    (square > voltage_share * voltage_share ? high : low) = b;
  }
  return low / kDegree;
}
}  // namespace

TEST_CASE("the textbook's R-L load at 90 degrees comes out as printed") {
  // Rashid, Power Electronics, 4th ed., ex. 11.2: 120 V, 60 Hz, 2.5 ohm, 6.5 mH. The book's own load voltage
  // is known to be wrong; 90.39 V is the companion's.
  auto load = ideal_load(Connection::single_phase, 2.5);
  load.inductance_H[0] = 6.5e-3;
  const auto result = solved_alone(single_phase_supply(120.0, 60.0), load, fired_at(90.0));
  CHECK(std::abs(result.legs[0].voltage_V - 90.390) <= 1e-3);
  CHECK(std::abs(result.legs[0].current_A - 21.311) <= 5e-4);
  CHECK(std::abs(result.legs[0].current_A / std::numbers::sqrt2 - 15.069) <= 5e-4);
  CHECK(std::abs(0.5 * result.pairs[0].mean_A - 8.226) <= 5e-4);
  CHECK(std::abs(result.legs[0].power_W - 1135.4) <= 0.05);
  CHECK(std::abs(result.legs[0].power_W / (120.0 * result.legs[0].current_A) - 0.4440) <= 5e-5);
  CHECK(std::abs(extinction_deg(90.0, result.legs[0].voltage_V / 120.0) - 220.411) <= 5e-3);
}

TEST_CASE("an R-L load's current ends at the published extinction angle") {
  // sin(b - phi) = sin(a - phi) exp(-(b - a)/tan phi), any textbook (Rashid, ch. 11); by bisection to 1e-3
  // degrees.
  constexpr struct {
    double phi_deg, alpha_deg, extinction_deg;
  } rows[] = {{10, 60, 190.000},  {10, 120, 189.947}, {30, 45, 209.899},  {30, 75, 209.301},
              {30, 105, 207.503}, {30, 150, 198.453}, {45, 60, 224.155},  {45, 90, 220.869},
              {45, 120, 214.256}, {45, 150, 202.105}, {60, 75, 237.103},  {60, 90, 233.218},
              {60, 135, 214.233}, {75, 90, 247.895},  {75, 120, 229.991}, {75, 150, 207.392},
              {80, 90, 253.982},  {80, 135, 221.056}, {85, 90, 261.152},  {85, 120, 236.298},
              {85, 150, 209.095}};
  for (const auto& row : rows) {
    CAPTURE(row.phi_deg);
    CAPTURE(row.alpha_deg);
    const auto load = with_phase_angle(row.phi_deg, row.alpha_deg);
    const double found = extinction_deg(row.alpha_deg, load.legs[0].voltage_V / 100.0);
    CHECK(std::abs(found - row.extinction_deg) <= 0.02);
  }
}

TEST_CASE("fired before its current's own zero an R-L load conducts all the time") {
  // For alpha below phi there is no control: full sine, current V/Z (held gates; a short pulse would miss
  // every other half-wave).
  constexpr struct {
    double phi_deg, alpha_deg;
  } rows[] = {{45, 0}, {45, 30}, {45, 44.9}, {60, 45}, {60, 59}, {75, 70}, {85, 75}};
  for (const auto& row : rows) {
    CAPTURE(row.phi_deg);
    CAPTURE(row.alpha_deg);
    const auto load = with_phase_angle(row.phi_deg, row.alpha_deg);
    CHECK(load.legs[0].voltage_V == doctest::Approx(100.0).epsilon(1e-5));
    CHECK(load.legs[0].current_A == doctest::Approx(100.0).epsilon(1e-4));
    CHECK(load.legs[0].power_W == doctest::Approx(1e4 * std::cos(row.phi_deg * kDegree)).epsilon(2e-4));
    CHECK(std::abs(load.pairs[0].dc_A) < 0.01);
  }
}

TEST_CASE("three-phase R-L loads at full conduction take what phasors say") {
  // |Z| = |16 + j 2 pi 50 * 20 mH| = 17.190 ohm; star V/(sqrt 3 Z), delta element V/Z.
  const double impedance = std::hypot(16.0, 2.0 * kPi);
  for (const auto connection :
       {Connection::star_3_wire, Connection::star_4_wire, Connection::delta, Connection::open_delta}) {
    auto load = ideal_load(connection, 16.0);
    load.inductance_H = alike(20e-3);
    const bool star = connection == Connection::star_3_wire || connection == Connection::star_4_wire;
    const double leg_A = (star ? 400.0 / std::numbers::sqrt3 : 400.0) / impedance;
    const auto result = solved_alone(three_phase_supply(400.0), load, fired_at(0.0));
    for (std::size_t leg = 0; leg < 3; ++leg) {
      CHECK(result.legs[leg].current_A == doctest::Approx(leg_A).epsilon(2e-5));
      CHECK(result.legs[leg].power_W == doctest::Approx(leg_A * leg_A * 16.0).epsilon(4e-5));
    }
  }
}
