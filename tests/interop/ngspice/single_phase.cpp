#include <cmath>
#include <numbers>

#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"
#include "tests/interop/ngspice/compare.hpp"

using namespace emberline;
using namespace emberline::spice;
using plant::Connection;

namespace {

constexpr double kLimit = 2e-3;

/// 10 ohm with an inductance that makes this angle at 50 Hz.
plant::LoadParameters with_phi(double phi_deg) {
  const double henry = 10.0 * std::tan(phi_deg * std::numbers::pi / 180.0) / (100.0 * std::numbers::pi);
  return load_of(Connection::single_phase, {10, 10, 10}, {henry, henry, henry});
}

plant::SupplyParameters behind(double ohm, double henry) {
  auto supply = single_phase(230.0);
  supply.resistance_ohm = ohm;
  supply.inductance_H = henry;
  return supply;
}

}  // namespace

TEST_CASE("single-phase resistive loads take what ngspice says") {
  const auto load = load_of(Connection::single_phase, {10, 10, 10});
  std::vector<Case> cases;
  for (const int angle : {0, 30, 90, 135})
    cases.push_back(steady("10 ohm at " + std::to_string(angle), single_phase(230.0), {load}, angle));
  for (const int angle : {0, 60, 120})
    cases.push_back(
        steady("10 ohm behind 0.4 ohm at " + std::to_string(angle), behind(0.4, 0.0), {load}, angle));
  for (const int angle : {0, 60, 120})
    cases.push_back(steady("10 ohm behind 0.4 ohm, 2 mH at " + std::to_string(angle), behind(0.4, 2e-3),
                           {load}, angle, 4));
  auto across = load;
  across.across = plant::Across::l3_l1;
  cases.push_back(steady("10 ohm between lines 3 and 1 at 70", mains(0.2), {across}, 70));
  across.across = plant::Across::l2_n;
  cases.push_back(steady("10 ohm between line 2 and neutral at 70", mains(0.2), {across}, 70));
  auto dipped = steady("10 ohm at 60, mains at 85 %", single_phase(230.0), {load}, 60);
  dipped.stage.supply_state.share = {0.85, 0.85, 0.85};
  cases.push_back(dipped);
  check_all(cases, kLimit);
}

TEST_CASE("single-phase resistive-inductive loads take what ngspice says") {
  std::vector<Case> cases;
  for (const int phi : {30, 60})
    for (const int angle : {15, 45, 75, 100, 140})
      cases.push_back(steady("phi " + std::to_string(phi) + " at " + std::to_string(angle),
                             single_phase(230.0), {with_phi(phi)}, angle, 6));
  cases.push_back(steady("phi 60 behind 0.4 ohm, 2 mH at 80", behind(0.4, 2e-3), {with_phi(60)}, 80, 6));
  cases.push_back(steady("120 V 60 Hz, 2.5 ohm 6.5 mH at 90", single_phase(120.0, 60.0),
                         {load_of(Connection::single_phase, {2.5, 1, 1}, {6.5e-3, 0, 0})}, 90, 4));
  auto begin = steady("phi 60 from rest at 30", single_phase(230.0), {with_phi(60)}, 30, 5);
  begin.first = 0;
  cases.push_back(begin);
  check_all(cases, kLimit);
}

TEST_CASE("thyristors that are open or shorted give the direct current that ngspice gives") {
  std::vector<Case> cases;
  for (const bool inductive : {false, true}) {
    const std::string words = inductive ? "phi 30, " : "10 ohm, ";
    const auto load = inductive ? with_phi(30) : load_of(Connection::single_phase, {10, 10, 10});
    const auto with = [&](const std::string& name, double angle, auto change) {
      Case one = steady(words + name, single_phase(230.0), {load}, angle, 5);
      for (auto& cycle : one.stage.cycles) change(cycle[0].legs[0]);
      cases.push_back(one);
    };
    with("backward open, at 70", 70, [](plant::LegState& leg) { leg.backward_open = true; });
    with("forward open, at 0", 0, [](plant::LegState& leg) { leg.forward_open = true; });
    with("forward shorted, at 110", 110, [](plant::LegState& leg) { leg.forward_shorted = true; });
    with("backward shorted, off", 180, [](plant::LegState& leg) { leg.backward_shorted = true; });
    with("both shorted, off", 180,
         [](plant::LegState& leg) { leg.forward_shorted = leg.backward_shorted = true; });
  }
  check_all(cases, kLimit);
}

TEST_CASE("what is off leaks as in ngspice") {
  // Not by check_all: it asks nothing of less than 50 mA.
  const auto leaky = [](plant::LoadParameters load) {
    load.leakage_A = 0.02;
    return load;
  };
  const Case cases[] = {
      steady("inductive", single_phase(230.0), {leaky(with_phi(30))}, 180, 3),
      steady("star with neutral, unequal", mains(), {leaky(load_of(Connection::star_4_wire, {8, 12, 20}))},
             180),
      steady("six wires", mains(), {leaky(load_of(Connection::open_delta, {16, 16, 16}))}, 180),
      steady("star without neutral", mains(), {leaky(load_of(Connection::star_3_wire, {16, 16, 16}))}, 180),
      steady("single-phase", single_phase(230.0), {leaky(load_of(Connection::single_phase, {10, 1, 1}))},
             180),
      steady("star with neutral", mains(), {leaky(load_of(Connection::star_4_wire, {16, 16, 16}))}, 180),
  };
  for (const auto& one : cases) {
    CAPTURE(one.name);
    const auto theirs = simulate_cycles(one.stage, one.first).back().loads[0];
    plant::Network network(one.stage.supply, one.stage.loads);
    plant::NetworkResult ours;
    for (const auto& cycle : one.stage.cycles) {
      network.solve(one.stage.supply_state, cycle, ours);
      network.next_cycle();
    }
    CHECK(theirs.legs[0].current_A == doctest::Approx(0.02).epsilon(0.01));
    CHECK(ours.loads[0].legs[0].current_A == doctest::Approx(theirs.legs[0].current_A).epsilon(5e-3));
  }
}
