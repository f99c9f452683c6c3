#include <cmath>
#include <numbers>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"
#include "tests/plant-models/enumerated_network.hpp"
#include "tests/support/plant_loads.hpp"

using namespace emberline::plant;

namespace {

void check_against_enumeration(double source_ohm, const std::vector<enumerated::Load>& given, int samples,
                               double tolerance) {
  auto supply = three_phase_supply(400.0);
  supply.resistance_ohm = source_ohm;
  std::vector<LoadParameters> loads;
  std::vector<Conduction> states;
  for (const auto& one : given) {
    loads.push_back(ideal_load(one.delta ? Connection::delta : Connection::star_3_wire, one.leg_ohm));
    loads.back().thyristor_drop_V = one.drop_V;
    states.push_back(fired_at(one.firing_deg));
  }
  const auto expected = enumerated::Network(400.0 * std::sqrt(2.0 / 3.0), source_ohm, given).means(samples);
  const auto result = solved(Network(supply, loads), states);
  for (std::size_t u = 0; u < given.size(); ++u)
    for (std::size_t k = 0; k < 3; ++k) {
      CAPTURE(u);
      CAPTURE(k);
      CAPTURE(given[u].firing_deg);
      const double full_A = 400.0 / given[u].leg_ohm[k];
      CHECK(std::abs(result.loads[u].legs[k].current_A - std::sqrt(expected[u].leg[k])) <=
            tolerance * full_A);
      CHECK(std::abs(result.loads[u].line_current_A[k] - std::sqrt(expected[u].line[k])) <=
            tolerance * full_A);
    }
}

}  // namespace

TEST_CASE("one three-wire load behind a weak source is as enumeration of its thyristors shows it") {
  for (const double angle : {20.0, 50.0, 70.0, 85.0, 100.0, 130.0}) {
    check_against_enumeration(0.5, {{false, alike(9.0), 1.5, angle}}, 3600, 3e-4);
    check_against_enumeration(0.5, {{true, alike(27.0), 1.5, angle}}, 3600, 3e-4);
  }
}

TEST_CASE("an unbalanced three-wire load is as enumeration of its thyristors shows it") {
  for (const double angle : {35.0, 80.0, 110.0}) {
    check_against_enumeration(0.01, {{false, {9.0, 14.0, 22.0}, 2.0, angle}}, 3600, 5e-4);
    check_against_enumeration(0.01, {{true, {27.0, 12.0, 40.0}, 2.0, angle}}, 3600, 5e-4);
  }
}

TEST_CASE("two three-wire loads behind one source see each other's sag as enumeration shows it") {
  check_against_enumeration(0.5, {{false, alike(9.0), 1.5, 40.0}, {true, alike(30.0), 1.0, 75.0}}, 1800,
                            8e-4);
  check_against_enumeration(0.5, {{false, alike(6.0), 0.0, 95.0}, {false, alike(12.0), 2.0, 65.0}}, 1800,
                            8e-4);
  check_against_enumeration(
      0.8, {{true, {27.0, 12.0, 40.0}, 1.0, 50.0}, {false, {9.0, 8.0, 7.0}, 1.0, 120.0}}, 1800, 8e-4);
}
