#include <array>
#include <cmath>
#include <numbers>
#include <random>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/electrical/circuit_gate.hpp"
#include "plant-models/electrical/network.hpp"
#include "tests/support/plant_loads.hpp"
#include "tests/support/this_build.hpp"

using namespace emberline::plant;

namespace {

double power_W(Network& network, double angle_deg) {
  NetworkResult result;
  network.solve({}, {fired_at(angle_deg)}, result);
  return total_W(result.loads[0]);
}

double random_in(std::mt19937& chance, double low, double high) {
  return low + (high - low) * (static_cast<double>(chance()) / 4294967296.0);
}

/// Any load, in any state.
LoadParameters random_load(std::mt19937& chance, bool inductive) {
  static constexpr Connection kAll[] = {Connection::single_phase, Connection::star_4_wire,
                                        Connection::star_3_wire, Connection::delta, Connection::open_delta};
  LoadParameters load = ideal_load(
      kAll[chance() % 5], {random_in(chance, 3, 40), random_in(chance, 3, 40), random_in(chance, 3, 40)});
  load.across = static_cast<Across>(chance() % 6);
  load.thyristor_drop_V = random_in(chance, 0, 2);
  load.leakage_A = chance() % 2 == 0 ? 0.0 : random_in(chance, 0, 0.02);
  if (load.three_wire() && chance() % 3 == 0) load.controlled_legs = 2;
  if (inductive) load.inductance_H = {random_in(chance, 0, 0.03), random_in(chance, 0, 0.03), 0.0};
  return load;
}

TransformerParameters random_transformer(std::mt19937& chance) {
  TransformerParameters transformer;
  transformer.winding_resistance_ohm = random_in(chance, 0.1, 1.0);
  transformer.leakage_inductance_H = random_in(chance, 0.0, 3e-3);
  transformer.magnetising_inductance_H = random_in(chance, 0.3, 3.0);
  transformer.knee = random_in(chance, 0.9, 1.5);
  transformer.saturated_inductance_H = random_in(chance, 3e-3, 20e-3);
  return transformer;
}

Conduction random_state(std::mt19937& chance) {
  Conduction state = fired_at(chance() % 4 == 0 ? 0.0 : random_in(chance, 0, 185));
  state.connected = chance() % 8 != 0;
  for (auto& leg : state.legs) {
    leg.forward_open = chance() % 12 == 0;
    leg.backward_open = chance() % 12 == 0;
    leg.forward_shorted = chance() % 12 == 0;
    leg.backward_shorted = chance() % 12 == 0;
    leg.fuse_open = chance() % 12 == 0;
    leg.elements_open = chance() % 12 == 0 ? 1 : 0;
    leg.ageing = random_in(chance, 0.8, 1.5);
  }
  return state;
}

/// What the supply gives a load is what its elements, windings and thyristors take, within 1e-3. What leaks
/// takes no more than its share of 600 V.
void check_balance(const LoadParameters& load, const Conduction& state, const LoadResult& result) {
  double given_W = 0.0;
  double taken_W = 0.0;
  double leaks_W = 0.0;
  for (std::size_t k = 0; k < 3; ++k) {
    given_W += result.line_power_W[k];
    taken_W += result.element_W[k];
    const double leg_A = result.legs[k].current_A;
    if (load.transformer) taken_W += load.transformer->winding_resistance_ohm * leg_A * leg_A;
    const bool direct = (load.controlled_legs == 2 && k == 2) ||
                        (state.legs[k].forward_shorted && state.legs[k].backward_shorted);
    if (direct || k >= load.legs()) continue;
    // Each direction has its part of the mean magnitude; one that is shorted drops nothing.
    const auto& pair = result.pairs[k];
    if (!state.legs[k].forward_shorted) taken_W += 0.5 * load.thyristor_drop_V * (pair.mean_A + pair.dc_A);
    if (!state.legs[k].backward_shorted) taken_W += 0.5 * load.thyristor_drop_V * (pair.mean_A - pair.dc_A);
    leaks_W += 600.0 * load.leakage_A * 600.0 / 230.0;
  }
  const double tolerance_W = 1e-3 * std::abs(given_W) + 1e-2;
  CHECK(given_W >= taken_W - tolerance_W - (load.leakage_A > 0.0 ? 0.2 : 0.0));
  CHECK(given_W <= taken_W + tolerance_W + leaks_W);
}

void check_sane(const LoadParameters& load, const LoadResult& result) {
  double given_W = 0.0;
  double lost_W = 0.0;
  for (std::size_t k = 0; k < 3; ++k) {
    CHECK(std::isfinite(result.legs[k].voltage_V));
    CHECK(result.legs[k].voltage_V < 2000.0);
    CHECK(result.legs[k].power_W > -1e-3);
    CHECK(std::isfinite(result.line_current_A[k]));
    CHECK(result.pairs[k].mean_A >= std::abs(result.pairs[k].dc_A) - 1e-9);
    CHECK(result.pairs[k].peak_A >= result.pairs[k].mean_A - 1e-9);
    given_W += result.line_power_W[k];
    lost_W += load.thyristor_drop_V * result.pairs[k].mean_A;
  }
  CHECK(given_W > -1e-3);
  // Shorted thyristors and direct lines drop nothing, and 0.02 A leak across 400 V.
  CHECK(given_W >= total_W(result) - 1e-3 * std::abs(given_W) - 1e-3);
  CHECK(given_W <= total_W(result) + lost_W + 1e-3 * given_W + 30.0);
  if (load.three_wire())
    CHECK(std::abs(result.pairs[0].dc_A + result.pairs[1].dc_A + result.pairs[2].dc_A) < 1e-3);
}

}  // namespace

TEST_CASE("the same cycle asked twice is answered twice alike, and the last answer counts") {
  Network network(three_phase_supply(400.0), {ideal_load(Connection::star_3_wire, 16.0)});
  const double half_W = power_W(network, 75.0);
  CHECK(power_W(network, 40.0) > half_W);
  CHECK(power_W(network, 75.0) == half_W);
  network.next_cycle();
  CHECK(power_W(network, 75.0) == doctest::Approx(5000.0).epsilon(1e-9));
  CHECK(network.settled());
}

TEST_CASE("an inductive load carries its current into the next cycle, and settles") {
  auto load = ideal_load(Connection::single_phase, 1.0);
  load.inductance_H[0] = 50e-3;
  Network network(single_phase_supply(230.0), {load});
  const double first_W = power_W(network, 0.0);
  CHECK_FALSE(network.settled());
  network.next_cycle();
  CHECK(power_W(network, 0.0) < first_W);  // the first cycle has a mean that dies away
  int cycles = 0;
  for (; cycles < 100 && !network.settled(); ++cycles) {
    network.next_cycle();
    static_cast<void>(power_W(network, 0.0));
  }
  CHECK(network.settled());
  CHECK(cycles > 10);
  const double impedance = std::hypot(1.0, 100.0 * std::numbers::pi * 50e-3);
  CHECK(power_W(network, 0.0) == doctest::Approx(230.0 * 230.0 / impedance / impedance).epsilon(1e-4));
}

TEST_CASE("full conduction is what a settled cycle at 0 degrees takes") {
  struct Row {
    double source_ohm, source_H, leakage_A;
  };
  constexpr Row kRows[] = {{0.0, 0.0, 0.0},      {0.2, 0.0, 0.0},     {0.0, 0.0, 10e-3},
                           {0.2, 0.0, 10e-3},    {6e-3, 30e-6, 0.0},  {0.1, 300e-6, 0.0},
                           {6e-3, 30e-6, 10e-3}, {0.1, 300e-6, 10e-3}};
  std::mt19937 chance(11);
  for (const Row& row : kRows)
    for (const bool inductive : {false, true})
      for (int round = 0; round < 12; ++round) {
        CAPTURE(row.source_ohm);
        CAPTURE(row.source_H);
        CAPTURE(row.leakage_A);
        CAPTURE(inductive);
        CAPTURE(round);
        auto supply = three_phase_supply(400.0);
        supply.resistance_ohm = row.source_ohm;
        supply.inductance_H = row.source_H;
        auto load = random_load(chance, inductive);
        load.leakage_A = row.leakage_A;
        Network network(supply, {load});
        const auto full = network.full_conduction(0, {}, {fired_at(180.0)});
        const auto expected = solved(network, {fired_at(0.0)}).loads[0];
        // By phasors the drop is one and the same share of all voltages.
        const double tolerance = inductive || row.source_H > 0.0 ? 1e-2 : 1e-6;
        for (std::size_t k = 0; k < load.legs(); ++k) {
          CHECK(full.legs[k].current_A == doctest::Approx(expected.legs[k].current_A).epsilon(tolerance));
          CHECK(full.legs[k].power_W == doctest::Approx(expected.legs[k].power_W).epsilon(tolerance));
          CHECK(full.legs[k].voltage_V == doctest::Approx(expected.legs[k].voltage_V).epsilon(tolerance));
        }
      }
}

TEST_CASE("full conduction beside many others is what it takes when it is fired so") {
  std::mt19937 chance(23);
  auto supply = three_phase_supply(400.0);
  supply.resistance_ohm = 0.05;
  std::vector<LoadParameters> loads;
  std::vector<Conduction> states;
  for (int u = 0; u < 6; ++u) {
    loads.push_back(random_load(chance, false));
    for (auto& ohm : loads.back().cold_resistance_ohm) ohm *= 4.0;
    states.push_back(fired_at(random_in(chance, 20, 100)));
  }
  Network network(supply, loads);
  static_cast<void>(solved(network, states));
  for (std::size_t u = 0; u < loads.size(); ++u) {
    CAPTURE(u);
    const auto full = network.full_conduction(u, {}, states);
    auto changed = states;
    changed[u] = fired_at(0.0);
    Network other(supply, loads);
    const auto expected = solved(other, changed).loads[u];
    for (std::size_t leg = 0; leg < loads[u].legs(); ++leg)
      CHECK(full.legs[leg].power_W == doctest::Approx(expected.legs[leg].power_W).epsilon(1e-2));
  }
}

TEST_CASE("a pair that is fired waits for its angle and its half-wave") {
  constexpr double kDegree = std::numbers::pi / 180.0;
  // Reference zero at 120 degrees, fired at 30 degrees behind it.
  const Gate gate(120.0 * kDegree, 30.0 * kDegree, 0.0, std::nullopt);
  CHECK_FALSE(gate.permits(1, 149.0 * kDegree));
  CHECK(gate.permits(1, 151.0 * kDegree));
  CHECK(gate.permits(1, 299.0 * kDegree));
  CHECK_FALSE(gate.permits(1, 301.0 * kDegree));
  CHECK_FALSE(gate.permits(-1, 200.0 * kDegree));
  CHECK(gate.permits(-1, 331.0 * kDegree));
  CHECK(gate.permits(-1, 1.0 * kDegree));  // of the half-wave before
  CHECK(gate.next_edge(0.0) == doctest::Approx(120.0 * kDegree));
  CHECK(gate.next_edge(121.0 * kDegree) == doctest::Approx(150.0 * kDegree));
  const Gate never(0.0, std::numbers::pi, 0.0, std::nullopt);
  CHECK_FALSE(never.permits(1, 179.0 * kDegree));
  CHECK(never.next_edge(0.0) == 2.0 * std::numbers::pi);
  // The first half-wave that begins in the cycle: here the positive one.
  const Gate first(120.0 * kDegree, 30.0 * kDegree, 0.0, 90.0 * kDegree);
  CHECK_FALSE(first.permits(1, 200.0 * kDegree));
  CHECK(first.permits(1, 211.0 * kDegree));
  CHECK(first.permits(-1, 331.0 * kDegree));
}

TEST_CASE("samples of a cycle are the wave whose RMS values are reported") {
  for (const auto connection : {Connection::star_4_wire, Connection::star_3_wire, Connection::delta})
    for (const double inductance_H : {0.0, 10e-3}) {
      auto load = ideal_load(connection, 16.0);
      load.inductance_H = alike(inductance_H);
      Network network(three_phase_supply(400.0), {load});
      const auto result = solved(network, {fired_at(60.0)});
      const auto waves = network.waves(0, {}, {fired_at(60.0)});
      const auto rms = [](const Waves::Wave& wave) {
        double sum = 0.0;
        for (const double value : wave) sum += value * value;
        return std::sqrt(sum / static_cast<double>(Waves::kSamples));
      };
      for (std::size_t k = 0; k < 3; ++k) {
        CHECK(rms(waves.supply_V[k]) == doctest::Approx(result.supply_voltage_V[k]).epsilon(1e-3));
        CHECK(rms(waves.voltage_V[k]) == doctest::Approx(result.loads[0].legs[k].voltage_V).epsilon(5e-3));
        CHECK(rms(waves.current_A[k]) == doctest::Approx(result.loads[0].legs[k].current_A).epsilon(5e-3));
        CHECK(rms(waves.line_A[k]) == doctest::Approx(result.loads[0].line_current_A[k]).epsilon(5e-3));
      }
      // Phase 1 begins with its upward zero.
      CHECK(waves.supply_V[0][0] ==
            doctest::Approx(400.0 * std::sqrt(2.0 / 3.0) * std::sin(std::numbers::pi / 360.0)).epsilon(1e-3));
    }
}

TEST_CASE("whatever is broken, nothing is created, infinite or unequal") {
  for (const bool inductive : {false, true}) {
    std::mt19937 chance(inductive ? 7 : 5);
    int balanced = 0;
    const int rounds = (inductive ? 60 : 300) / (emberline::testing::sanitized() ? 10 : 1);
    for (int round = 0; round < rounds; ++round) {
      CAPTURE(inductive);
      CAPTURE(round);
      auto supply = three_phase_supply(400.0);
      if (chance() % 2 == 0) supply.resistance_ohm = random_in(chance, 0.01, 0.5);
      if (inductive && chance() % 3 == 0) supply.inductance_H = random_in(chance, 5e-5, 1e-3);
      supply.reversed = chance() % 2 == 0;
      supply.phase_share = {1.0, random_in(chance, 0.9, 1.1), random_in(chance, 0.9, 1.1)};
      std::vector<LoadParameters> loads;
      bool cores = false;
      for (std::size_t u = 0; u <= chance() % 3; ++u) {
        loads.push_back(random_load(chance, inductive));
        if (inductive && !loads[u].three_wire() && chance() % 3 == 0) {
          loads[u].transformer = random_transformer(chance);
          cores = true;
        }
      }
      Network network(supply, loads);
      Network again(supply, loads);
      NetworkResult result, same;
      for (int cycle = 0; cycle < 5; ++cycle) {
        SupplyState state;
        if (!cores && chance() % 3 == 0) state.open[chance() % 3] = true;
        if (chance() % 3 == 0) state.share[chance() % 3] = random_in(chance, 0.0, 1.2);
        std::vector<Conduction> states;
        for (std::size_t u = 0; u < loads.size(); ++u) states.push_back(random_state(chance));
        for (int quiet = 0; quiet < 12; ++quiet) {
          network.solve(state, states, result);
          again.solve(state, states, same);
          network.next_cycle();
          again.next_cycle();
        }
        for (std::size_t u = 0; u < loads.size(); ++u) {
          CAPTURE(cycle);
          CAPTURE(u);
          // Else a core may still take or give energy.
          if (network.settled() || !loads[u].transformer) {
            check_sane(loads[u], result.loads[u]);
            check_balance(loads[u], states[u], result.loads[u]);
            ++balanced;
          }
          CHECK(result.loads[u].legs[0].power_W == same.loads[u].legs[0].power_W);
        }
      }
      CHECK(network.gave_up() == 0);
    }
    CHECK(balanced > 5 * rounds);
  }
}
