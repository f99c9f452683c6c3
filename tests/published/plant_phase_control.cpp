#include <cmath>
#include <numbers>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"
#include "plant-models/electrical/phase_control.hpp"
#include "tests/support/solved.hpp"

using namespace emberline::plant;

namespace {

/// A single-phase resistive load on a stiff supply, without thyristor drop, as the textbooks have it.
LoadResult textbook_load(double supply_V, double load_ohm, double angle_deg) {
  SupplyParameters supply;
  supply.system = System::single_phase;
  supply.voltage_V = supply_V;
  LoadParameters load;
  load.material = find_material("constant");
  load.cold_resistance_ohm = alike(load_ohm);
  load.thyristor_drop_V = 0.0;
  Network network(supply, {load});
  Conduction state;
  state.firing_angle_deg = angle_deg;
  return solved(network, {state}).loads[0];
}

}  // namespace

TEST_CASE("the share of power at a firing angle is the published characteristic's") {
  struct Case {
    const char* source;
    double angle_deg, voltage_share, power_share;
    double tolerance;
  };
  const char* const closed_form =
      "closed form of Rashid, Power Electronics, ch. 11, and of university lectures on AC voltage "
      "controllers; "
      "digits recomputed by numerical integration, printed to 6";
  const char* const msl = "Modelica Standard Library, block VoltageToAngle, table in alpha/pi, 9 digits";
  const Case cases[] = {
      {closed_form, 0, 1.000000, 1.000000, 1e-6},
      {closed_form, 15, 0.998120, 0.996244, 1e-6},
      {closed_form, 30, 0.985477, 0.971166, 1e-6},
      {closed_form, 45, 0.953496, 0.909155, 1e-6},
      {closed_form, 60, 0.896939, 0.804499, 1e-6},
      {closed_form, 75, 0.814193, 0.662911, 1e-6},
      {closed_form, 90, 0.707107, 0.500000, 1e-6},
      {closed_form, 105, 0.580594, 0.337089, 1e-6},
      {closed_form, 120, 0.442155, 0.195501, 1e-6},
      {closed_form, 135, 0.301405, 0.090845, 1e-6},
      {closed_form, 150, 0.169807, 0.028834, 1e-6},
      {closed_form, 165, 0.061285, 0.003756, 1e-6},
      {closed_form, 180, 0.0, 0.0, 1e-12},
      {msl, 45, 0.953496168, 0.953496168 * 0.953496168, 2e-9},
      {msl, 90, 0.707106781, 0.5, 2e-9},
      {msl, 108, 0.553580231, 0.553580231 * 0.553580231, 2e-9},
      {msl, 126, 0.385531651, 0.385531651 * 0.385531651, 2e-9},
      {msl, 135, 0.301405137, 0.301405137 * 0.301405137, 2e-9},
  };
  for (const auto& row : cases) {
    CAPTURE(row.source);
    CAPTURE(row.angle_deg);
    const double share = power_share_of_angle(row.angle_deg);
    CHECK(std::abs(share - row.power_share) <= row.tolerance);
    CHECK(std::abs(std::sqrt(share) - row.voltage_share) <= row.tolerance);
    // The waveform solution has to come to the same as the closed form: 100 V across 1 ohm.
    const auto leg = textbook_load(100.0, 1.0, row.angle_deg).legs[0];
    CHECK(std::abs(leg.voltage_V / 100.0 - row.voltage_share) <= row.tolerance);
    CHECK(std::abs(leg.power_W / 1e4 - row.power_share) <= row.tolerance);
    // Power factor of a controlled resistance: P / (Vs I) = V / Vs.
    if (leg.current_A > 0.0)
      CHECK(leg.power_W / (100.0 * leg.current_A) == doctest::Approx(row.voltage_share).epsilon(2e-6));
  }
}

TEST_CASE("the angle for a demanded level is the inverse of the published characteristic") {
  // Bisection of the closed form by an independent program, printed to 1e-4 degrees.
  constexpr struct {
    double level, for_power_deg, for_voltage_deg;
  } rows[] = {
      {0.05, 143.6473, 166.9174}, {0.1, 133.3969, 159.1207}, {0.2, 119.4630, 146.3846},
      {0.25, 113.8268, 140.6593}, {0.3, 108.6443, 135.1525}, {0.4, 99.0755, 124.4668},
      {0.5, 90.0000, 113.8268},   {0.6, 80.9245, 102.8114},  {0.7, 71.3557, 90.9001},
      {0.75, 66.1732, 84.3568},   {0.8, 60.5370, 77.1886},   {0.9, 46.6031, 59.3354},
      {0.95, 36.3527, 46.1738},
  };
  for (const auto& row : rows) {
    CAPTURE(row.level);
    CHECK(std::abs(angle_of_power_share(row.level) - row.for_power_deg) <= 1e-4);
    CHECK(std::abs(angle_of_power_share(row.level * row.level) - row.for_voltage_deg) <= 1e-4);
    CHECK(std::abs(angle_of_power_share(row.level) + angle_of_power_share(1.0 - row.level) - 180.0) <= 1e-9);
  }
}

TEST_CASE("worked examples of textbooks come out as printed") {
  struct Case {
    const char* source;
    double supply_V, load_ohm, angle_deg;
    double voltage_V, voltage_tolerance, current_A, current_tolerance, power_W, power_tolerance;
  };
  const Case cases[] = {
      {"Rashid, Power Electronics, 4th ed., ex. 11.1", 120, 10, 90, 84.853, 5e-4, 8.485, 5e-4, 720, 0.5},
      {"public exercise on AC voltage controllers, 240 V, 10 ohm, alpha = pi/2", 240, 10, 90, 169.71, 5e-3,
       16.97, 5e-3, 2880, 0.5},
      {"Rashid, ex. 11.8: 230 V, 10 kW resistive, full on (SCR peak 61.49 A)", 230, 5.29, 0, 230, 1e-9,
       61.49 / std::numbers::sqrt2, 5e-3, 10000, 0.5},
  };
  for (const auto& row : cases) {
    CAPTURE(row.source);
    const auto leg = textbook_load(row.supply_V, row.load_ohm, row.angle_deg).legs[0];
    CHECK(std::abs(leg.voltage_V - row.voltage_V) <= row.voltage_tolerance);
    CHECK(std::abs(leg.current_A - row.current_A) <= row.current_tolerance);
    CHECK(std::abs(leg.power_W - row.power_W) <= row.power_tolerance);
  }
}
