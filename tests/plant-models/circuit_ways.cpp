#include <array>
#include <cmath>
#include <numbers>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/electrical/circuit_resistive.hpp"
#include "plant-models/electrical/circuit_stepped.hpp"
#include "plant-models/electrical/closed_forms.hpp"
#include "plant-models/electrical/network.hpp"
#include "tests/support/plant_loads.hpp"

using namespace emberline::plant;

namespace {

/// Cycle after cycle by one of the two solvers of a circuit.
std::vector<LoadResult> by_stretches(const SupplyParameters& supply, const std::vector<LoadParameters>& loads,
                                     const std::vector<Conduction>& states, bool steps) {
  std::vector<UnitCircuit> units;
  for (const auto& load : loads) units.emplace_back(supply, load);
  std::vector<UnitState> carried;
  std::vector<UnitCircuit*> pointers;
  for (auto& unit : units) {
    carried.push_back(unit.rest());
    pointers.push_back(&unit);
  }
  const SourceWaves source = source_waves(supply, {});
  ResistiveCircuit resistive;
  SteppedCircuit stepped;
  SourceState source_state;
  std::vector<LoadResult> results(loads.size());
  for (int cycle = 0; cycle < 4; ++cycle) {
    for (std::size_t u = 0; u < units.size(); ++u) units[u].begin_cycle(carried[u], states[u], source);
    if (steps) {
      stepped.solve(source, {supply.resistance_ohm, 0.0}, pointers, source_state, false);
    } else {
      resistive.solve(source, supply.resistance_ohm, pointers);
    }
    for (std::size_t u = 0; u < units.size(); ++u) {
      (steps ? stepped.sums() : resistive.sums())[u].fill(units[u], results[u]);
      carried[u] = units[u].state();
    }
  }
  return results;
}

void check_alike(const LoadResult& a, const LoadResult& b, double scale_A, double tolerance) {
  for (std::size_t k = 0; k < 3; ++k) {
    CHECK(std::abs(a.legs[k].current_A - b.legs[k].current_A) <= tolerance * scale_A);
    CHECK(std::abs(a.line_current_A[k] - b.line_current_A[k]) <= tolerance * scale_A);
    CHECK(std::abs(a.legs[k].power_W - b.legs[k].power_W) <= tolerance * 400.0 * scale_A);
    CHECK(std::abs(a.line_power_W[k] - b.line_power_W[k]) <= tolerance * 400.0 * scale_A);
    CHECK(std::abs(a.pairs[k].mean_A - b.pairs[k].mean_A) <= tolerance * scale_A);
    CHECK(std::abs(a.pairs[k].dc_A - b.pairs[k].dc_A) <= tolerance * scale_A);
    CHECK(std::abs(a.pairs[k].peak_A - b.pairs[k].peak_A) <= tolerance * scale_A);
  }
  CHECK(std::abs(a.neutral_current_A - b.neutral_current_A) <= tolerance * scale_A);
}

}  // namespace

TEST_CASE("a plain load is the same in closed form, stretch by stretch and step by step") {
  for (const double source_ohm : {0.0, 0.3})
    for (const double angle : {0.0, 20.0, 68.0, 90.0, 135.0, 180.0}) {
      CAPTURE(source_ohm);
      CAPTURE(angle);
      auto supply = three_phase_supply(400.0);
      supply.resistance_ohm = source_ohm;
      std::vector<LoadParameters> loads{ideal_load(Connection::star_4_wire, 5.5),
                                        ideal_load(Connection::star_4_wire, 8.0)};
      for (auto& load : loads) load.thyristor_drop_V = 1.2;
      // Closed forms leave out what leaks while a pair conducts part of the half-wave.
      loads[0].leakage_A = angle < 180.0 ? 0.0 : 0.01;
      const std::vector<Conduction> states{fired_at(angle), fired_at(50.0)};
      ClosedForms closed(supply, loads);
      NetworkResult expected;
      closed.solve(1.0, states, expected);
      const auto stretches = by_stretches(supply, loads, states, false);
      const auto steps = by_stretches(supply, loads, states, true);
      for (std::size_t u = 0; u < loads.size(); ++u) {
        const double scale_A = 230.0 / loads[u].cold_resistance_ohm[0];
        check_alike(expected.loads[u], stretches[u], scale_A, angle < 180.0 ? 2e-6 : 2e-5);
        check_alike(stretches[u], steps[u], scale_A, 1e-4);
      }
    }
}

TEST_CASE("three-wire loads are the same stretch by stretch and step by step") {
  for (const auto connection : {Connection::star_3_wire, Connection::delta, Connection::open_delta})
    for (const double source_ohm : {0.0, 0.2})
      for (const double angle : {0.0, 30.0, 75.0, 100.0, 130.0}) {
        CAPTURE(source_ohm);
        CAPTURE(angle);
        auto supply = three_phase_supply(400.0);
        supply.resistance_ohm = source_ohm;
        std::vector<LoadParameters> loads{ideal_load(connection, {10.0, 13.0, 11.0})};
        loads[0].thyristor_drop_V = 1.2;
        Conduction state = fired_at(angle);
        const auto stretches = by_stretches(supply, loads, {state}, false);
        const auto steps = by_stretches(supply, loads, {state}, true);
        check_alike(stretches[0], steps[0], 40.0, 2e-4);
      }
}

TEST_CASE("faults are the same stretch by stretch and step by step") {
  std::vector<LegState> faults(6);
  faults[0].forward_shorted = true;
  faults[1].backward_open = true;
  faults[2].fuse_open = true;
  faults[3].elements_open = 1;
  faults[4].forward_shorted = faults[4].backward_shorted = true;
  faults[5].ageing = 1.5;
  for (const auto connection :
       {Connection::star_4_wire, Connection::star_3_wire, Connection::delta, Connection::open_delta})
    for (std::size_t fault = 0; fault < faults.size(); ++fault) {
      CAPTURE(fault);
      const std::vector<LoadParameters> loads{ideal_load(connection, 12.0)};
      Conduction state = fired_at(70.0);
      state.legs[1] = faults[fault];
      const auto supply = three_phase_supply(400.0);
      const auto stretches = by_stretches(supply, loads, {state}, false);
      const auto steps = by_stretches(supply, loads, {state}, true);
      check_alike(stretches[0], steps[0], 35.0, 2e-4);
    }
}

TEST_CASE("what the supply gives is what loads and thyristors take") {
  for (const auto connection :
       {Connection::star_4_wire, Connection::star_3_wire, Connection::delta, Connection::open_delta})
    for (const double inductance_H : {0.0, 15e-3})
      for (const double angle : {0.0, 40.0, 80.0, 110.0}) {
        CAPTURE(inductance_H);
        CAPTURE(angle);
        auto load = ideal_load(connection, {10.0, 13.0, 16.0});
        load.thyristor_drop_V = 1.6;
        // In proportion: else a current goes round in a delta that is off, which the models drop.
        load.inductance_H = {inductance_H, 1.3 * inductance_H, 1.6 * inductance_H};
        const auto result = solved_alone(three_phase_supply(400.0), load, fired_at(angle));
        double given_W = 0.0;
        double lost_W = 0.0;
        for (std::size_t k = 0; k < 3; ++k) {
          given_W += result.line_power_W[k];
          lost_W += 1.6 * result.pairs[k].mean_A;
          const auto& leg = result.legs[k];
          CHECK(leg.power_W ==
                doctest::Approx(leg.current_A * leg.current_A * load.cold_resistance_ohm[k]).epsilon(3e-4));
        }
        CHECK(given_W == doctest::Approx(total_W(result) + lost_W).epsilon(1e-4));
      }
}

TEST_CASE("a source with inductance feeds a full load as phasors say") {
  auto supply = three_phase_supply(400.0);
  supply.resistance_ohm = 0.12;
  supply.inductance_H = 650e-6;
  const double reactance = 2.0 * std::numbers::pi * 50.0 * 650e-6;
  const double line_A = 400.0 / std::numbers::sqrt3 / std::hypot(8.12, reactance);
  for (const auto& [connection, ohm] : {std::pair{Connection::star_4_wire, 8.0},
                                        {Connection::star_3_wire, 8.0},
                                        {Connection::delta, 24.0},
                                        {Connection::open_delta, 24.0}}) {
    const auto result = solved(Network(supply, {ideal_load(connection, ohm)}), {fired_at(0.0)});
    for (std::size_t p = 0; p < 3; ++p) {
      CHECK(result.loads[0].line_current_A[p] == doctest::Approx(line_A).epsilon(1e-4));
      CHECK(result.supply_current_A[p] == doctest::Approx(line_A).epsilon(1e-4));
      CHECK(result.supply_voltage_V[p] == doctest::Approx(line_A * 8.0).epsilon(1e-4));
    }
  }
}

TEST_CASE("units on a stiff supply add up in its lines as if they were solved together") {
  // The same units behind next to nothing are solved together.
  const std::vector<LoadParameters> loads{ideal_load(Connection::star_3_wire, 12.0),
                                          ideal_load(Connection::delta, 30.0),
                                          ideal_load(Connection::star_4_wire, 20.0)};
  const std::vector<Conduction> states{fired_at(70.0), fired_at(40.0), fired_at(95.0)};
  auto supply = three_phase_supply(400.0);
  const auto one_by_one = solved(Network(supply, loads), states);
  supply.resistance_ohm = 1e-9;
  const auto together = solved(Network(supply, loads), states);
  for (std::size_t p = 0; p < 3; ++p) {
    CHECK(one_by_one.supply_current_A[p] == doctest::Approx(together.supply_current_A[p]).epsilon(1e-6));
    CHECK(one_by_one.supply_voltage_V[p] == doctest::Approx(together.supply_voltage_V[p]).epsilon(1e-6));
  }
  CHECK(one_by_one.supply_neutral_A == doctest::Approx(together.supply_neutral_A).epsilon(1e-6));
  // Inductive ones are added up from their steps: what is given is what is taken.
  supply.resistance_ohm = 0.0;
  auto some = loads;
  some[1].inductance_H = alike(20e-3);
  const auto mixed = solved(Network(supply, some), states);
  double given_W = 0.0;
  for (const auto& load : mixed.loads)
    for (const double line_W : load.line_power_W) given_W += line_W;
  double taken_W = 0.0;
  for (const auto& load : mixed.loads) taken_W += total_W(load);
  CHECK(given_W == doctest::Approx(taken_W).epsilon(1e-4));
  CHECK(mixed.supply_current_A[0] > 0.9 * one_by_one.supply_current_A[0]);
  CHECK(mixed.supply_current_A[0] < 1.1 * one_by_one.supply_current_A[0]);
}
