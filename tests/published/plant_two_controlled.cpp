#include <array>
#include <cmath>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"
#include "tests/support/plant_loads.hpp"

using namespace emberline::plant;

namespace {

struct Cycle {
  double power_share;
  LoadResult load;
};

/// Cycle by cycle: off (false) or whole half-waves (true).
std::vector<Cycle> burst(const LoadParameters& load, double full_W, const std::vector<bool>& on) {
  Network network(three_phase_supply(400.0), {load});
  NetworkResult result;
  std::vector<Cycle> cycles;
  for (const bool conducts : on) {
    network.solve({}, {fired_at(conducts ? 0.0 : 180.0)}, result);
    network.next_cycle();
    cycles.push_back({total_W(result.loads[0]) / full_W, result.loads[0]});
  }
  return cycles;
}

struct ThreeWire {
  Connection connection;
  double full_W;
};
constexpr ThreeWire kBoth[] = {{Connection::star_3_wire, 1e4}, {Connection::delta, 3e4}};

}  // namespace

TEST_CASE("bursts of three-wire loads begin and end with 90 degrees at half the power") {
  // Ideal switches at the zeros of their own voltage: line 1 and 3 begin at their common zero, 30 degrees
  // behind that of phase 1, line 2 another 90 degrees later; the first line ends at its current's zero, the
  // remaining two 90 degrees later. Each of these 90 degrees carries half of what is balanced. Derived, and
  // confirmed by numerical integration (0.5000).
  for (const int controlled : {3, 2})
    for (const auto& [connection, full_W] : kBoth) {
      CAPTURE(controlled);
      auto load = ideal_load(connection, 16.0);
      load.controlled_legs = controlled;
      const auto cycles = burst(load, full_W, {false, true, true, false, false});
      CHECK(cycles[0].power_share < 1e-9);
      CHECK(cycles[1].power_share == doctest::Approx((0.5 * 90.0 + 240.0) / 360.0).epsilon(1e-6));
      CHECK(cycles[2].power_share == doctest::Approx(1.0).epsilon(1e-9));
      CHECK(cycles[3].power_share == doctest::Approx(0.5 * 90.0 / 360.0).epsilon(1e-6));
      CHECK(cycles[4].power_share < 1e-9);
      CHECK(cycles[4].load.line_current_A[0] < 1e-6);
    }
}

TEST_CASE("over two bursts a three-wire load gets its whole cycles, with three legs controlled or two") {
  // P = k of integral-cycle control (Rashid, ch. 11) holds for three-wire loads only on average.
  for (const int controlled : {3, 2})
    for (const auto& [connection, full_W] : kBoth) {
      auto load = ideal_load(connection, 16.0);
      load.controlled_legs = controlled;
      for (const std::size_t length : {1u, 2u, 5u}) {
        std::vector<bool> on;
        for (int round = 0; round < 2; ++round) {
          on.insert(on.end(), length, true);
          on.insert(on.end(), 3, false);
        }
        double sum = 0.0;
        double first = 0.0;
        const auto cycles = burst(load, full_W, on);
        for (std::size_t cycle = 0; cycle < cycles.size(); ++cycle) {
          sum += cycles[cycle].power_share;
          if (2 * cycle < cycles.size()) first += cycles[cycle].power_share;
        }
        CAPTURE(controlled);
        CAPTURE(length);
        CHECK(first == doctest::Approx(static_cast<double>(length) - 1.0 / 12.0).epsilon(1e-6));
        CHECK(sum == doctest::Approx(2.0 * static_cast<double>(length)).epsilon(1e-6));
      }
    }
}

TEST_CASE("with two controlled lines a shorted pair leaves half the power with no command") {
  // Star: 2R across V; delta: R beside 2R across V. Both half of normal.
  for (const auto& [connection, full_W] : kBoth) {
    auto load = ideal_load(connection, 16.0);
    load.controlled_legs = 2;
    Conduction state = fired_at(180.0);
    state.legs[0].forward_shorted = state.legs[0].backward_shorted = true;
    const auto result = solved_alone(three_phase_supply(400.0), load, state);
    CHECK(total_W(result) == doctest::Approx(0.5 * full_W).epsilon(1e-6));
    CHECK(result.line_current_A[0] == doctest::Approx(result.line_current_A[2]).epsilon(1e-6));
    CHECK(result.line_current_A[1] < 1e-6);
  }
}

TEST_CASE("with three controlled lines one shorted pair alone carries nothing, two carry half") {
  Conduction state = fired_at(180.0);
  state.legs[0].forward_shorted = state.legs[0].backward_shorted = true;
  const auto load = ideal_load(Connection::star_3_wire, 16.0);
  CHECK(total_W(solved_alone(three_phase_supply(400.0), load, state)) < 1e-6);
  state.legs[2].forward_shorted = state.legs[2].backward_shorted = true;
  CHECK(total_W(solved_alone(three_phase_supply(400.0), load, state)) ==
        doctest::Approx(5000.0).epsilon(1e-6));
}
