#include <doctest/doctest.h>

#include "tests/interop/ngspice/compare.hpp"

using namespace emberline;
using namespace emberline::spice;
using plant::Connection;

namespace {

constexpr double kLimit = 4e-3;

/// 0.5 ohm behind 4 to 1: 8 ohm as the primary sees it.
plant::LoadParameters through_transformer(Connection connection, double knee, double remanence = 0.0) {
  auto load = load_of(connection, {0.5, 0.5, 0.5});
  plant::TransformerParameters core;
  core.ratio = 4.0;
  core.winding_resistance_ohm = 0.3;
  core.leakage_inductance_H = 1.5e-3;
  core.magnetising_inductance_H = 0.4;
  core.knee = knee;
  core.saturated_inductance_H = 8e-3;
  core.remanence = remanence;
  load.transformer = core;
  return load;
}

/// Compared from the very first cycle on.
Case from_rest(Case one) {
  one.first = 0;
  return one;
}

}  // namespace

TEST_CASE("loads behind a transformer take what ngspice says in the steady state") {
  std::vector<Case> cases;
  for (const int angle : {0, 60, 110})
    cases.push_back(steady("transformer, single-phase at " + std::to_string(angle), single_phase(230.0),
                           {through_transformer(Connection::single_phase, 5.0)}, angle, 15));
  cases.push_back(steady("transformer that saturates in each half-wave, at 30", single_phase(230.0),
                         {through_transformer(Connection::single_phase, 0.8)}, 30, 15));
  auto behind = single_phase(230.0);
  behind.resistance_ohm = 0.2;
  behind.inductance_H = 0.5e-3;
  cases.push_back(steady("transformer behind 0.2 ohm, 0.5 mH, at 60", behind,
                         {through_transformer(Connection::single_phase, 1.3)}, 60, 15));
  cases.push_back(steady("transformers, star with neutral, at 75", mains(),
                         {through_transformer(Connection::star_4_wire, 5.0)}, 75, 15));
  cases.push_back(steady("transformers, six wires, at 75", mains(),
                         {through_transformer(Connection::open_delta, 5.0)}, 75, 15));
  auto inductive = through_transformer(Connection::single_phase, 5.0);
  inductive.inductance_H = {1e-3, 0, 0};
  cases.push_back(steady("transformer and 0.5 ohm 1 mH, at 90", single_phase(230.0), {inductive}, 90, 12));
  check_all(cases, kLimit);
}

TEST_CASE("a transformer fired at the wrong instant takes the inrush that ngspice gives") {
  std::vector<Case> cases;
  const auto fired = [&](const std::string& name, double remanence, std::optional<double> first_deg) {
    Case one = from_rest(steady(name, single_phase(230.0),
                                {through_transformer(Connection::single_phase, 1.2, remanence)}, 0, 3));
    one.stage.cycles[0][0].first_half_deg = first_deg;
    cases.push_back(one);
  };
  fired("first half-wave whole", 0.0, {});
  fired("first half-wave whole, remanence 40 %", 0.4, {});
  fired("first half-wave at 90", 0.0, 90.0);
  fired("first half-wave at 90, remanence 40 %", 0.4, 90.0);
  check_all(cases, kLimit);
  const auto peak = [](const Case& one) { return simulate_cycles(one.stage, 0)[0].loads[0].pairs[0].peak_A; };
  CHECK(peak(cases[0]) > 2.0 * peak(cases[2]));
}
