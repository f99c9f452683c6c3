#include "plant-models/electrical/circuit_crowd.hpp"

#include <cmath>
#include <random>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/electrical/circuit_resistive.hpp"
#include "plant-models/electrical/circuit_stepped.hpp"
#include "plant-models/electrical/network.hpp"
#include "tests/support/plant_loads.hpp"

using namespace emberline::plant;

namespace {

struct Crowd {
  SupplyParameters supply;
  std::vector<LoadParameters> loads;
  std::vector<Conduction> states;
};

double random_in(std::mt19937& chance, double low, double high) {
  return low + (high - low) * (static_cast<double>(chance()) / 4294967296.0);
}

/// Any connections and angles, together as much as one load would be.
Crowd random_crowd(std::size_t count, double inductance_H) {
  static constexpr Connection kAll[] = {Connection::star_4_wire, Connection::star_3_wire, Connection::delta,
                                        Connection::open_delta, Connection::single_phase};
  std::mt19937 chance(3);
  Crowd crowd;
  crowd.supply = three_phase_supply(400.0);
  crowd.supply.resistance_ohm = 0.2;
  crowd.supply.inductance_H = inductance_H;
  for (std::size_t u = 0; u < count; ++u) {
    crowd.loads.push_back(
        ideal_load(kAll[chance() % 5], random_in(chance, 2.0, 20.0) * static_cast<double>(count)));
    crowd.loads.back().thyristor_drop_V = 1.2;
    crowd.loads.back().leakage_A = 0.001;
    crowd.states.push_back(fired_at(chance() % 5 == 0 ? 0.0 : random_in(chance, 20.0, 130.0)));
  }
  return crowd;
}

/// Five cycles by one of the solvers; the last.
template <typename Solve>
NetworkResult last_cycle(const Crowd& crowd, Solve&& solve) {
  std::vector<UnitCircuit> units;
  std::vector<UnitState> carried;
  for (const auto& load : crowd.loads) {
    units.emplace_back(crowd.supply, load);
    carried.push_back(units.back().rest());
  }
  std::vector<UnitCircuit*> pointers;
  for (auto& unit : units) pointers.push_back(&unit);
  const SourceWaves source = source_waves(crowd.supply, {});
  SourceState source_state;
  NetworkResult result;
  result.loads.resize(units.size());
  for (int cycle = 0; cycle < 5; ++cycle) {
    for (std::size_t u = 0; u < units.size(); ++u) units[u].begin_cycle(carried[u], crowd.states[u], source);
    const auto& solver = solve(source, pointers, source_state);
    for (std::size_t u = 0; u < units.size(); ++u) {
      solver.sums()[u].fill(units[u], result.loads[u]);
      carried[u] = units[u].state();
    }
    solver.supply().fill(result);
  }
  return result;
}

void check_crowd(const Crowd& crowd, double tolerance) {
  CrowdCircuit by_crowd;
  ResistiveCircuit by_stretches;
  SteppedCircuit by_steps;
  const SourceImpedance impedance{crowd.supply.resistance_ohm, crowd.supply.inductance_H};
  const auto found = last_cycle(
      crowd, [&](const auto& source, const auto& units, auto& state) -> const auto& {
        by_crowd.solve(source, impedance, units, state);
        return by_crowd;
      });
  const auto expected = impedance.inductance_H > 0.0
                            ? last_cycle(
                                  crowd,
                                  [&](const auto& source, const auto& units, auto& state) -> const auto& {
                                    by_steps.solve(source, impedance, units, state, false);
                                    return by_steps;
                                  })
                            : last_cycle(
                                  crowd, [&](const auto& source, const auto& units, auto&) -> const auto& {
                                    by_stretches.solve(source, impedance.resistance_ohm, units);
                                    return by_stretches;
                                  });
  for (std::size_t u = 0; u < crowd.loads.size(); ++u) {
    CAPTURE(u);
    const double full_A = 400.0 / crowd.loads[u].cold_resistance_ohm[0];
    const auto& a = found.loads[u];
    const auto& b = expected.loads[u];
    for (std::size_t k = 0; k < 3; ++k) {
      CHECK(std::abs(a.legs[k].current_A - b.legs[k].current_A) <= tolerance * full_A);
      CHECK(std::abs(a.legs[k].power_W - b.legs[k].power_W) <= tolerance * 400.0 * full_A);
      CHECK(std::abs(a.line_power_W[k] - b.line_power_W[k]) <= tolerance * 400.0 * full_A);
      CHECK(std::abs(a.pairs[k].mean_A - b.pairs[k].mean_A) <= tolerance * full_A);
      CHECK(std::abs(a.pairs[k].peak_A - b.pairs[k].peak_A) <= 0.03 * full_A);
    }
  }
  for (std::size_t p = 0; p < 3; ++p) {
    CHECK(found.supply_voltage_V[p] == doctest::Approx(expected.supply_voltage_V[p]).epsilon(3e-4));
    CHECK(found.supply_current_A[p] == doctest::Approx(expected.supply_current_A[p]).epsilon(6e-3));
  }
}

}  // namespace

TEST_CASE("many loads behind one source are as if each was looked at singly") {
  check_crowd(random_crowd(20, 0.0), 5e-5);
  check_crowd(random_crowd(40, 0.0), 5e-5);
}

TEST_CASE("many loads behind an inductive source are as if each was looked at singly") {
  check_crowd(random_crowd(20, 50e-6), 3e-4);
}

namespace {

SupplyParameters inductive_supply(double inductance_H, double times = 1.0) {
  auto supply = single_phase_supply(230.0);
  supply.resistance_ohm = 0.1 * times;
  supply.inductance_H = inductance_H * times;
  return supply;
}

/// Of a heater behind a resistance and an inductance, fired behind the zero of the voltage: the sine with its
/// lag, and what decays with L/R, until the current is zero (the a.c. controller with an R-L load in any
/// textbook, such as Rashid, ch. 11).
double fired_power_W(const SupplyParameters& supply, double load_ohm, double angle_deg) {
  const double pi = std::acos(-1.0);
  const double ohm = supply.resistance_ohm + load_ohm;
  const double reactance_ohm = 2.0 * pi * supply.frequency_Hz * supply.inductance_H;
  const double lag = std::atan2(reactance_ohm, ohm);
  const double fired = angle_deg * pi / 180.0;
  const auto current_A = [&](double at) {
    return supply.voltage_V * std::sqrt(2.0) / std::hypot(ohm, reactance_ohm) *
           (std::sin(at - lag) - std::sin(fired - lag) * std::exp(-(at - fired) * ohm / reactance_ohm));
  };
  const double step = 1e-5;
  double square = 0.0;
  for (int k = 0; current_A(fired + (k + 0.5) * step) > 0.0; ++k)
    square += step * std::pow(current_A(fired + (k + 0.5) * step), 2);
  return square / pi * load_ohm;
}

double power_W(const SupplyParameters& supply, const std::vector<LoadParameters>& loads, double angle_deg) {
  std::vector<Conduction> states(loads.size(), fired_at(angle_deg));
  for (std::size_t u = 1; u < loads.size(); ++u)
    if (loads[u].cold_resistance_ohm[0] > 100.0) states[u] = fired_at(180.0);
  Network network(supply, loads);
  return total_W(solved(network, states).loads[0]);
}

}  // namespace

TEST_CASE(
    "one heater behind an inductive source takes another power as soon as many idle ones are beside it") {
  for (const double inductance_H : {50e-6, 650e-6, 1e-3}) {
    for (const double angle_deg : {60.0, 90.3, 130.0, 150.2, 165.0, 165.25}) {
      CAPTURE(inductance_H);
      CAPTURE(angle_deg);
      const auto supply = inductive_supply(inductance_H);
      const double expected_W = fired_power_W(supply, 1.0, angle_deg);
      std::vector<LoadParameters> loads{ideal_load(Connection::single_phase, 1.0)};
      CHECK(power_W(supply, loads, angle_deg) == doctest::Approx(expected_W).epsilon(5e-3));
      loads.insert(loads.end(), 20, ideal_load(Connection::single_phase, 1000.0));
      CHECK(power_W(supply, loads, angle_deg) == doctest::Approx(expected_W).epsilon(5e-3));
    }
  }
}

TEST_CASE("heaters that all fire at once behind an inductance are not one behind as many times as much") {
  for (const double inductance_H : {650e-6, 3e-3}) {
    for (const double angle_deg : {0.0, 60.0, 90.3, 130.0, 150.2}) {
      CAPTURE(inductance_H);
      CAPTURE(angle_deg);
      const std::vector<LoadParameters> loads(17, ideal_load(Connection::single_phase, 17.0));
      const double one_W = power_W(inductive_supply(inductance_H, 17.0), {loads.front()}, angle_deg);
      CHECK(power_W(inductive_supply(inductance_H), loads, angle_deg) ==
            doctest::Approx(one_W).epsilon(3e-3));
    }
  }
}

TEST_CASE("a network of many loads gives in what they and their thyristors take") {
  for (const double inductance_H : {0.0, 100e-6}) {
    auto crowd = random_crowd(30, inductance_H);
    for (auto& load : crowd.loads) load.leakage_A = 0.0;  // it is lost in the thyristors, too
    Network network(crowd.supply, crowd.loads);
    const auto result = solved(network, crowd.states);
    double given_W = 0.0;
    double taken_W = 0.0;
    for (std::size_t u = 0; u < crowd.loads.size(); ++u) {
      taken_W += total_W(result.loads[u]);
      for (std::size_t k = 0; k < 3; ++k) {
        given_W += result.loads[u].line_power_W[k];
        taken_W += 1.2 * result.loads[u].pairs[k].mean_A;
      }
    }
    CHECK(given_W == doctest::Approx(taken_W).epsilon(1e-4));
    // Its samples are those of the same cycle.
    const auto waves = network.waves(7, {}, crowd.states);
    double square = 0.0;
    for (const double volts : waves.supply_V[1])
      square += volts * volts / static_cast<double>(Waves::kSamples);
    CHECK(std::sqrt(square) == doctest::Approx(result.supply_voltage_V[1]).epsilon(1e-3));
  }
}

TEST_CASE("many loads that all fire at once still divide the voltage as Ohm's law says") {
  auto supply = three_phase_supply(400.0);
  supply.resistance_ohm = 0.01;
  const std::vector<LoadParameters> loads(50, ideal_load(Connection::star_3_wire, 50.0));
  const auto full = solved(Network(supply, loads), std::vector<Conduction>(50, fired_at(0.0)));
  // Fifty of 50 ohm behind 0.01 ohm: 1 in 1.01.
  const double expected_W = 400.0 * 400.0 / 50.0 / 1.01 / 1.01;
  CHECK(total_W(full.loads[31]) == doctest::Approx(expected_W).epsilon(1e-4));
  const auto half = solved(Network(supply, loads), std::vector<Conduction>(50, fired_at(75.0)));
  CHECK(total_W(half.loads[31]) == doctest::Approx(0.5 * expected_W).epsilon(1e-3));
}
