#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"
#include "tests/interop/ngspice/compare.hpp"

using namespace emberline;
using namespace emberline::spice;
using plant::Connection;

namespace {

constexpr double kLimit = 4e-3;

/// Two cycles on, three off, twice, compared cycle by cycle from rest on.
Case two_of_five(const std::string& name, const plant::SupplyParameters& supply,
                 const plant::LoadParameters& load) {
  Case one = steady(name, supply, {load}, 0.0, 9);
  for (std::size_t cycle = 0; cycle < one.stage.cycles.size(); ++cycle)
    if (cycle % 5 >= 2) one.stage.cycles[cycle][0].firing_angle_deg = 180.0;
  one.first = 0;
  return one;
}

std::vector<GateWindow> held(double first_from_deg, double first_to_deg, double second_from_deg,
                             double second_to_deg) {
  return {{first_from_deg, first_to_deg}, {second_from_deg, second_to_deg}};
}

/// Without neutral. A burst begins when two lines are at the same voltage, with these two; the third joins
/// them 90 degrees later, when there is no voltage across its own thyristors. It ends when a current passes
/// zero, and 90 degrees later for the other two. So it is 30 degrees shorter than two cycles, and the next
/// one longer.
Case without_neutral(Case one, int controlled_legs) {
  one.stage.loads[0].controlled_legs = controlled_legs;
  one.stage.step_s = 5e-6;
  constexpr double kSecond_deg = 5 * 360.0;
  // Gates are taken away shortly before, for the current that has to end at that very instant.
  constexpr double kFirstEnd_deg = 719.0;
  if (controlled_legs == 3) {
    const double end_deg = kSecond_deg + 720.0 + 29.0;
    one.stage.gates = {{held(30, kFirstEnd_deg, kSecond_deg + 30, end_deg),
                        held(120, kFirstEnd_deg, kSecond_deg + 120, end_deg),
                        held(30, kFirstEnd_deg, kSecond_deg + 30, end_deg)}};
  } else {
    const double end_deg = kSecond_deg + 720.0 + 44.0;
    one.stage.gates = {{held(30, kFirstEnd_deg, kSecond_deg + 180, end_deg),
                        held(120, kFirstEnd_deg, kSecond_deg + 90, end_deg),
                        {}}};
  }
  return one;
}

}  // namespace

TEST_CASE("each cycle of a burst is as in ngspice, those of the transitions too") {
  std::vector<Case> cases;
  cases.push_back(
      two_of_five("10 ohm, 2 of 5", single_phase(230.0), load_of(Connection::single_phase, {10, 1, 1})));
  cases.push_back(two_of_five("10 ohm 55 mH, 2 of 5", single_phase(230.0),
                              load_of(Connection::single_phase, {10, 1, 1}, {55e-3, 0, 0})));
  auto behind = single_phase(230.0);
  behind.resistance_ohm = 0.3;
  behind.inductance_H = 1e-3;
  cases.push_back(two_of_five("10 ohm 20 mH behind 0.3 ohm, 1 mH, 2 of 5", behind,
                              load_of(Connection::single_phase, {10, 1, 1}, {20e-3, 0, 0})));
  const std::array<double, 3> ohm{16, 16, 16}, henry{10e-3, 10e-3, 10e-3};
  cases.push_back(two_of_five("star, neutral, unequal, 2 of 5", mains(),
                              load_of(Connection::star_4_wire, {8.6, 12.3, 19.7})));
  cases.push_back(
      two_of_five("six wires 16 ohm 10 mH, 2 of 5", mains(), load_of(Connection::open_delta, ohm, henry)));
  for (const int legs : {3, 2}) {
    const std::string words = std::to_string(legs) + " legs controlled, 2 of 5";
    const auto add = [&](const std::string& name, const plant::LoadParameters& load) {
      cases.push_back(without_neutral(two_of_five(name + words, mains(), load), legs));
    };
    add("star, ", load_of(Connection::star_3_wire, ohm));
    add("star 16 ohm 10 mH, ", load_of(Connection::star_3_wire, ohm, henry));
    add("delta, ", load_of(Connection::delta, ohm));
  }
  check_all(cases, kLimit);
}

TEST_CASE("a burst of a balanced star with neutral takes the energy that ngspice gives") {
  const Case one = two_of_five("", mains(), load_of(Connection::star_4_wire, {16, 16, 16}));
  plant::Network network(one.stage.supply, one.stage.loads);
  plant::NetworkResult result;
  const auto theirs = simulate_cycles(one.stage, 0);
  double ours_W = 0.0, theirs_W = 0.0;
  for (std::size_t cycle = 0; cycle < 5; ++cycle) {
    network.solve(one.stage.supply_state, one.stage.cycles[cycle], result);
    network.next_cycle();
    for (std::size_t leg = 0; leg < 3; ++leg) {
      ours_W += result.loads[0].legs[leg].power_W;
      theirs_W += theirs[cycle].loads[0].legs[leg].power_W;
    }
  }
  CHECK(ours_W == doctest::Approx(theirs_W).epsilon(1e-3));
}
