#include <cmath>
#include <numbers>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"
#include "tests/support/plant_loads.hpp"

using namespace emberline::plant;

namespace {
constexpr Connection kThreeLegs[] = {Connection::star_4_wire, Connection::star_3_wire, Connection::delta,
                                     Connection::open_delta};
}

TEST_CASE("a load whose contactor is open carries nothing at all, whatever is shorted") {
  for (const auto connection : kThreeLegs) {
    auto load = ideal_load(connection, 16.0);
    load.leakage_A = 0.01;
    Conduction state = fired_at(0.0);
    state.connected = false;
    for (auto& leg : state.legs) leg.forward_shorted = leg.backward_shorted = true;
    const auto result = solved_alone(three_phase_supply(400.0), load, state);
    for (std::size_t k = 0; k < 3; ++k) {
      CHECK(result.legs[k].voltage_V == 0.0);
      CHECK(result.line_current_A[k] == 0.0);
    }
  }
}

TEST_CASE("an open fuse leaves its line without current") {
  for (const auto connection : kThreeLegs) {
    CAPTURE(static_cast<int>(connection));
    Conduction state = fired_at(0.0);
    state.legs[1].fuse_open = true;
    const auto result = solved_alone(three_phase_supply(400.0), ideal_load(connection, 16.0), state);
    if (connection == Connection::open_delta) {  // the fuse is in the leg
      CHECK(result.legs[1].current_A == 0.0);
      CHECK(total_W(result) == doctest::Approx(20000.0).epsilon(1e-6));
    } else {
      CHECK(result.line_current_A[1] < 1e-9);
      const double expected_W = connection == Connection::delta         ? 15000.0
                                : connection == Connection::star_3_wire ? 5000.0
                                                                        : 20000.0 / 3.0;
      CHECK(total_W(result) == doctest::Approx(expected_W).epsilon(1e-6));
    }
  }
}

TEST_CASE("off is not isolated: a pair that is off lets its leakage through") {
  for (const auto connection : kThreeLegs) {
    CAPTURE(static_cast<int>(connection));
    auto load = ideal_load(connection, 16.0);
    load.leakage_A = 0.01;
    auto supply = three_phase_supply(400.0);
    supply.phase_share = {1.0, 1.0, 1.0 + 1e-12};  // not plain to the last digit: solved as a circuit
    for (const auto& given : {three_phase_supply(400.0), supply}) {
      const auto result = solved_alone(given, load, fired_at(180.0));
      // Pairs in the lines of a delta see the phase voltage, so they leak 1/sqrt 3 of it.
      const double expected_A = connection == Connection::delta ? 0.01 / std::numbers::sqrt3 : 0.01;
      CHECK(result.pairs[0].mean_A == doctest::Approx(expected_A * 0.9003).epsilon(0.15));
      if (connection != Connection::open_delta)
        CHECK(result.line_current_A[0] == doctest::Approx(expected_A).epsilon(3e-3));
      CHECK(total_W(result) < 1.0);
      CHECK(total_W(result) > 0.0);
    }
  }
}

TEST_CASE("a thyristor that is shorted or open puts a mean into its line") {
  for (const auto connection : kThreeLegs) {
    CAPTURE(static_cast<int>(connection));
    const auto load = ideal_load(connection, 16.0);
    const double full_A = solved_alone(three_phase_supply(400.0), load, fired_at(0.0)).line_current_A[0];
    Conduction state = fired_at(90.0);
    CHECK(std::abs(solved_alone(three_phase_supply(400.0), load, state).pairs[0].dc_A) < 1e-6 * full_A);
    state.legs[0].forward_open = true;
    CHECK(solved_alone(three_phase_supply(400.0), load, state).pairs[0].dc_A < -0.05 * full_A);
    state.legs[0].forward_open = false;
    state.legs[0].backward_open = true;
    CHECK(solved_alone(three_phase_supply(400.0), load, state).pairs[0].dc_A > 0.05 * full_A);
    state.legs[0].backward_open = false;
    state.legs[0].forward_shorted = true;
    const auto shorted = solved_alone(three_phase_supply(400.0), load, state);
    CHECK(shorted.pairs[0].dc_A > 0.05 * full_A);
    // In three-wire loads the means of the lines have no other way than through each other.
    if (load.three_wire())
      CHECK(std::abs(shorted.pairs[0].dc_A + shorted.pairs[1].dc_A + shorted.pairs[2].dc_A) < 1e-6 * full_A);
  }
}

TEST_CASE("a lost supply line is fed backwards through the loads that hang on it") {
  // A delta and a star with neutral on a supply without impedance, line 3 lost: the delta's elements to line
  // 3 and the star's leg there form a divider.
  const std::vector<LoadParameters> loads{ideal_load(Connection::delta, 30.0),
                                          ideal_load(Connection::star_4_wire, 10.0)};
  Network network(three_phase_supply(400.0), loads);
  SupplyState supply;
  supply.open[2] = true;
  const auto result = solved(network, {fired_at(0.0), fired_at(0.0)}, supply);
  // Node 3: (v1 - v3)/30 + (v2 - v3)/30 = v3/10, so v3 = (v1 + v2)/5: 230.94/5 V.
  const double phase_V = 400.0 / std::numbers::sqrt3;
  CHECK(result.supply_voltage_V[2] == doctest::Approx(phase_V / 5.0).epsilon(1e-4));
  CHECK(result.supply_current_A[2] < 1e-6);
  CHECK(result.loads[1].legs[2].current_A == doctest::Approx(phase_V / 50.0).epsilon(1e-4));
  CHECK(result.loads[0].line_current_A[2] == doctest::Approx(phase_V / 50.0).epsilon(1e-4));
  SUBCASE("and everything is well again when the line is back") {
    const auto after = solved(network, {fired_at(0.0), fired_at(0.0)});
    CHECK(total_W(after.loads[0]) == doctest::Approx(16000.0).epsilon(1e-6));
    CHECK(total_W(after.loads[1]) == doctest::Approx(16000.0).epsilon(1e-6));
  }
}

TEST_CASE("ageing raises the resistance of its leg, an open one in series opens it") {
  auto load = ideal_load(Connection::star_4_wire, 10.0);
  load.elements = 2;
  LegState state;
  state.ageing = 1.3;
  CHECK(leg_resistance_ohm(load, 0, 20.0, state) == doctest::Approx(6.5));
  state.elements_open = 1;
  CHECK(leg_resistance_ohm(load, 0, 20.0, state) == doctest::Approx(13.0));
  state.elements_open = 2;
  CHECK(std::isinf(leg_resistance_ohm(load, 0, 20.0, state)));
  load.grouping = Grouping::series;
  state.elements_open = 1;
  CHECK(std::isinf(leg_resistance_ohm(load, 0, 20.0, state)));
}

TEST_CASE("voltages between the lines are those of the busbar, and an interrupted line floats") {
  const double phase_V = 400.0 / std::numbers::sqrt3;
  const std::vector<LoadParameters> delta_and_star{ideal_load(Connection::delta, 30.0),
                                                   ideal_load(Connection::star_4_wire, 10.0)};
  std::vector<LoadParameters> inductive = delta_and_star;
  inductive[0].inductance_H = alike(1e-9);
  std::vector<LoadParameters> many(20, ideal_load(Connection::delta, 600.0));
  many.insert(many.end(), 20, ideal_load(Connection::star_4_wire, 200.0));
  for (const auto& loads : {delta_and_star, inductive, many}) {
    const std::vector<Conduction> states(loads.size(), fired_at(0.0));
    SupplyState supply;
    const auto whole = solved(Network(three_phase_supply(400.0), loads), states, supply);
    for (const double line_V : whole.supply_line_V) CHECK(line_V == doctest::Approx(400.0).epsilon(1e-4));
    supply.open[2] = true;
    const auto lost = solved(Network(three_phase_supply(400.0), loads), states, supply);
    // Node 3 is at (v1 + v2)/5 as above: v1 - v3 = (4 v1 - v2)/5, of length sqrt(16 + 1 + 4)/5.
    CHECK(lost.supply_line_V[0] == doctest::Approx(400.0).epsilon(1e-4));
    CHECK(lost.supply_line_V[1] == doctest::Approx(phase_V * std::sqrt(21.0) / 5.0).epsilon(1e-3));
    CHECK(lost.supply_line_V[2] == doctest::Approx(phase_V * std::sqrt(21.0) / 5.0).epsilon(1e-3));
  }
  const auto plain = solved(Network(three_phase_supply(400.0), {ideal_load(Connection::star_4_wire, 10.0)}),
                            {fired_at(0.0)});
  CHECK(plain.supply_line_V[1] == doctest::Approx(400.0).epsilon(1e-9));
  for (const double inductance_H : {0.0, 1e-3}) {
    auto load = ideal_load(Connection::single_phase, 10.0);
    load.inductance_H[0] = inductance_H;
    const auto single = solved(Network(single_phase_supply(230.0), {load}), {fired_at(0.0)});
    for (const double line_V : single.supply_line_V) CHECK(line_V == 0.0);
  }
}
