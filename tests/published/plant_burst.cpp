#include <chrono>
#include <cmath>

#include <doctest/doctest.h>

#include "plant-models/electrical/burst.hpp"
#include "plant-models/electrical/network.hpp"
#include "plant-models/electrical/rms_window.hpp"
#include "tests/support/solved.hpp"

using namespace emberline::plant;
using namespace std::chrono_literals;

namespace {

struct BurstMean {
  double voltage_V, current_A, power_W;
};

/// A single-phase load fired in spread bursts, seen by a meter over `cycles` cycles of 50 Hz.
BurstMean burst_mean(double supply_V, double load_ohm, double duty, int cycles) {
  SupplyParameters supply;
  supply.system = System::single_phase;
  supply.voltage_V = supply_V;
  LoadParameters load;
  load.material = find_material("constant");
  load.cold_resistance_ohm = alike(load_ohm);
  load.thyristor_drop_V = 0.0;
  Network network(supply, {load});
  SpreadBurst burst;
  SlidingMean<3> meter(20ms * cycles);
  for (int cycle = 0; cycle < cycles; ++cycle) {
    Conduction state;
    state.firing_angle_deg = burst.next_cycle(duty) ? 0.0 : 180.0;
    const auto leg = solved(network, {state}).loads[0].legs[0];
    meter.append(20ms, {leg.voltage_V * leg.voltage_V, leg.current_A * leg.current_A, leg.power_W});
  }
  const auto mean = meter.mean();
  return {std::sqrt(mean[0]), std::sqrt(mean[1]), mean[2]};
}

}  // namespace

TEST_CASE("burst firing over whole periods gives P = k and V = sqrt k") {
  // Rashid, Power Electronics, ch. 11 (on-off control) and public tutorials; the digits are sqrt(k).
  constexpr struct {
    double duty, voltage_share;
  } rows[] = {{0.1, 0.316228}, {0.25, 0.5},      {0.36, 0.6}, {0.5, 0.707107}, {0.6, 0.774597},
              {0.64, 0.8},     {0.75, 0.866025}, {0.81, 0.9}, {0.9, 0.948683}, {1.0, 1.0}};
  for (const auto& row : rows) {
    CAPTURE(row.duty);
    const auto mean = burst_mean(230.0, 15.0, row.duty, 100);
    CHECK(std::abs(mean.voltage_V / 230.0 - row.voltage_share) <= 1e-6);
    CHECK(std::abs(mean.power_W / (230.0 * 230.0 / 15.0) - row.duty) <= 1e-9);
    // Power factor over the period: P / (Vs I) = sqrt k.
    CHECK(std::abs(mean.power_W / (230.0 * mean.current_A) - row.voltage_share) <= 1e-6);
  }
}

TEST_CASE("worked examples of on-off control come out as computed") {
  SUBCASE("120 V, 10 ohm, 25 cycles on and 75 off: attribution to an edition of Rashid from memory") {
    const auto mean = burst_mean(120.0, 10.0, 0.25, 100);
    CHECK(std::abs(mean.voltage_V - 60.0) <= 0.005);
    CHECK(std::abs(mean.current_A - 6.0) <= 0.0005);
    CHECK(std::abs(mean.power_W - 360.0) <= 0.05);
  }
  SUBCASE("230 V, 15 ohm, 6 on and 4 off: derived from P = k V^2/R") {
    const auto mean = burst_mean(230.0, 15.0, 0.6, 10);
    CHECK(std::abs(mean.voltage_V - 178.157) <= 0.0005);
    CHECK(std::abs(mean.power_W - 2116.0) <= 0.05);
    CHECK(std::abs(mean.power_W / (230.0 * mean.current_A) - 0.7746) <= 5e-5);
  }
}
