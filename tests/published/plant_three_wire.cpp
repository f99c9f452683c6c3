#include <cmath>
#include <numbers>

#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"
#include "plant-models/electrical/phase_control.hpp"
#include "tests/support/plant_loads.hpp"

using namespace emberline::plant;

namespace {

/// Rashid, Power Electronics, ch. 11 (60 to 90 degrees: worked example 11.3) and university lectures on AC
/// voltage controllers (all ranges) have the law; the table was confirmed by an independent simulation of the
/// thyristors' states with gates of 120 degrees, agreement 2e-5.
struct ThreeWireRow {
  double angle_deg, voltage_share, power_share;
};
constexpr ThreeWireRow kThreeWire[] = {
    {0, 1.000000, 1.000000},   {15, 0.997179, 0.994366},  {30, 0.978135, 0.956748}, {45, 0.929372, 0.863732},
    {60, 0.840683, 0.706748},  {75, 0.707107, 0.500000},  {90, 0.541527, 0.293252}, {105, 0.369144, 0.136268},
    {120, 0.207970, 0.043252}, {135, 0.075059, 0.005634}, {150, 0.0, 0.0}};

constexpr double kPhase_V = 400.0 / std::numbers::sqrt3;

}  // namespace

TEST_CASE("six thyristors in the lines of a star give the published power at every angle") {
  for (const auto& row : kThreeWire) {
    CAPTURE(row.angle_deg);
    const auto load = solved_alone(three_phase_supply(400.0), ideal_load(Connection::star_3_wire, 16.0),
                                   fired_at(row.angle_deg));
    CHECK(std::abs(total_W(load) / 1e4 - row.power_share) <= 1e-6);
    for (std::size_t leg = 0; leg < 3; ++leg) {
      CHECK(std::abs(load.legs[leg].voltage_V / kPhase_V - row.voltage_share) <= 2e-6);
      // Power factor: P over the line's volt-amperes is the voltage share.
      CHECK(std::abs(load.line_current_A[leg] * 16.0 / kPhase_V - row.voltage_share) <= 2e-6);
      CHECK(std::abs(load.pairs[leg].dc_A) < 1e-6);
    }
    CHECK(load.neutral_current_A == 0.0);
  }
}

TEST_CASE("six thyristors in the lines of a delta follow the same law") {
  for (const auto& row : kThreeWire) {
    CAPTURE(row.angle_deg);
    const auto load =
        solved_alone(three_phase_supply(400.0), ideal_load(Connection::delta, 16.0), fired_at(row.angle_deg));
    CHECK(std::abs(total_W(load) / 3e4 - row.power_share) <= 1e-6);
    CHECK(std::abs(load.legs[1].voltage_V / 400.0 - row.voltage_share) <= 2e-6);
    // Triplens are nil: the line carries sqrt 3 times the element at any angle.
    CHECK(load.line_current_A[2] ==
          doctest::Approx(std::numbers::sqrt3 * load.legs[0].current_A).epsilon(1e-6));
  }
}

TEST_CASE("with the other phase rotation three-wire loads get the same") {
  auto supply = three_phase_supply(400.0);
  supply.reversed = true;
  for (const auto& row : kThreeWire) {
    CAPTURE(row.angle_deg);
    const auto load =
        solved_alone(supply, ideal_load(Connection::star_3_wire, 16.0), fired_at(row.angle_deg));
    CHECK(std::abs(total_W(load) / 1e4 - row.power_share) <= 1e-6);
  }
}

TEST_CASE("the law of three-wire loads and its inverse are the published ones") {
  for (const auto& row : kThreeWire)
    for (const auto connection : {Connection::star_3_wire, Connection::delta})
      CHECK(std::abs(power_share_of_angle(row.angle_deg, connection) - row.power_share) <= 1e-6);
  // Inverse by an independent program, printed to 1e-4 degrees.
  constexpr struct {
    double share, angle_deg;
  } inverse[] = {{0.05, 118.4534}, {0.1, 109.7440}, {0.2, 98.1639}, {0.25, 93.5932}, {0.3, 89.4630},
                 {0.4, 81.9976},   {0.5, 75.0000},  {0.6, 68.0024}, {0.7, 60.5370},  {0.75, 56.4068},
                 {0.8, 51.8361},   {0.9, 40.2560},  {0.95, 31.5466}};
  for (const auto& row : inverse) {
    CAPTURE(row.share);
    CHECK(std::abs(angle_of_power_share(row.share, Connection::star_3_wire) - row.angle_deg) <= 1e-4);
  }
  CHECK(angle_of_power_share(0.0, Connection::delta) == 180.0);
  CHECK(angle_of_power_share(1.0, Connection::delta) == 0.0);
  // Single, star with neutral and open delta go by the law of one phase.
  for (const auto connection : {Connection::single_phase, Connection::star_4_wire, Connection::open_delta})
    CHECK(power_share_of_angle(60.0, connection) == power_share_of_angle(60.0));
}

TEST_CASE("an open delta's lines carry less than sqrt 3 times its elements") {
  // Each element by the single-phase law; line currents integrated by an independent program, 2e-5.
  constexpr struct {
    double angle_deg, line_per_element, line_per_full, power_factor;
  } rows[] = {{0, 1.73205, 1.00000, 1.0000},   {30, 1.72346, 0.98059, 0.9904},
              {45, 1.70296, 0.93748, 0.9698},  {60, 1.66042, 0.85984, 0.9356},
              {75, 1.59777, 0.75107, 0.8826},  {90, 1.52753, 0.62361, 0.8018},
              {105, 1.45626, 0.48815, 0.6905}, {120, 1.41421, 0.36102, 0.5415},
              {135, 1.41421, 0.24610, 0.3691}, {150, 1.41421, 0.13865, 0.2080}};
  const double full_A = 43.301270;
  for (const auto& row : rows) {
    CAPTURE(row.angle_deg);
    const auto load = solved_alone(three_phase_supply(400.0), ideal_load(Connection::open_delta, 16.0),
                                   fired_at(row.angle_deg));
    const double line_A = load.line_current_A[1];
    CHECK(std::abs(line_A / load.legs[0].current_A - row.line_per_element) <= 3e-5);
    CHECK(std::abs(line_A / full_A - row.line_per_full) <= 2e-5);
    CHECK(std::abs(total_W(load) / (std::numbers::sqrt3 * 400.0 * line_A) - row.power_factor) <= 1e-4);
  }
}

TEST_CASE("three-phase worked examples come out as printed") {
  SUBCASE("Rashid ex. 11.3: star of 10 ohm, 208 V, six thyristors at 60 degrees") {
    const auto load =
        solved_alone(three_phase_supply(208.0), ideal_load(Connection::star_3_wire, 10.0), fired_at(60.0));
    CHECK(std::abs(load.legs[0].voltage_V - 100.957) <= 5e-4);
    CHECK(std::abs(load.line_current_A[0] - 10.096) <= 5e-4);
    CHECK(std::abs(total_W(load) - 3057.7) <= 0.05);
    CHECK(std::abs(total_W(load) / (std::numbers::sqrt3 * 208.0 * load.line_current_A[0]) - 0.8407) <= 5e-5);
  }
  SUBCASE("Rashid ex. 11.4: six wires, elements of 10 ohm, 208 V, 120 degrees") {
    const auto load =
        solved_alone(three_phase_supply(208.0), ideal_load(Connection::open_delta, 10.0), fired_at(120.0));
    CHECK(std::abs(load.legs[0].voltage_V - 91.968) <= 5e-4);
    CHECK(std::abs(load.legs[0].current_A - 9.197) <= 5e-4);
    CHECK(std::abs(load.line_current_A[0] - 13.006) <= 5e-4);
    CHECK(std::abs(total_W(load) - 2537.5) <= 0.1);
    // The book's power factor 0.442 is that of the elements; seen from the line it is 0.5415.
    CHECK(std::abs(total_W(load) / (std::numbers::sqrt3 * 208.0 * load.line_current_A[0]) - 0.5415) <= 5e-5);
  }
}
