#include "plant-models/electrical/network.hpp"

#include <cmath>
#include <limits>
#include <numbers>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/electrical/plain.hpp"
#include "tests/support/solved.hpp"

using namespace emberline::plant;

namespace {

LoadParameters load_of(Connection connection, double ohm) {
  LoadParameters load;
  load.connection = connection;
  load.material = find_material("constant");
  load.cold_resistance_ohm = alike(ohm);
  load.thyristor_drop_V = 0.0;
  return load;
}

Conduction at_angle(double angle_deg) {
  Conduction state;
  state.firing_angle_deg = angle_deg;
  return state;
}

SupplyParameters single_phase(double volts, double source_ohm) {
  SupplyParameters supply;
  supply.system = System::single_phase;
  supply.voltage_V = volts;
  supply.resistance_ohm = source_ohm;
  return supply;
}

}  // namespace

TEST_CASE("a source resistance divides the voltage as Ohm's law says") {
  SUBCASE("single-phase: 230 V behind 0.5 ohm into 22.5 ohm is 10 A and 225 V") {
    const auto result =
        solved(Network(single_phase(230.0, 0.5), {load_of(Connection::single_phase, 22.5)}), {at_angle(0.0)});
    CHECK(result.loads[0].legs[0].current_A == doctest::Approx(10.0).epsilon(1e-12));
    CHECK(result.loads[0].legs[0].voltage_V == doctest::Approx(225.0).epsilon(1e-12));
    CHECK(result.supply_voltage_V[0] == doctest::Approx(225.0).epsilon(1e-12));
    CHECK(result.loads[0].legs[1].current_A == 0.0);
    CHECK(result.supply_voltage_V[1] == 0.0);
  }
  SUBCASE("star: 400 V behind 0.5 ohm into 9.5 ohm is 40/sqrt 3 A a line") {
    SupplyParameters supply;
    supply.resistance_ohm = 0.5;
    const auto result = solved(Network(supply, {load_of(Connection::star_4_wire, 9.5)}), {at_angle(0.0)});
    CHECK(result.loads[0].legs[2].current_A == doctest::Approx(40.0 / std::numbers::sqrt3).epsilon(1e-12));
    CHECK(result.supply_voltage_V[2] == doctest::Approx(380.0 / std::numbers::sqrt3).epsilon(1e-12));
    CHECK(result.loads[0].neutral_current_A < 1e-9);
  }
  SUBCASE("delta of 28.5 ohm loads the lines as a star of 9.5 ohm") {
    SupplyParameters supply;
    supply.resistance_ohm = 0.5;
    const auto result = solved(Network(supply, {load_of(Connection::delta, 28.5)}), {at_angle(0.0)});
    CHECK(result.loads[0].line_current_A[1] == doctest::Approx(40.0 / std::numbers::sqrt3).epsilon(1e-9));
    CHECK(result.loads[0].legs[1].current_A == doctest::Approx(40.0 / 3.0).epsilon(1e-9));
    CHECK(result.loads[0].legs[1].voltage_V == doctest::Approx(380.0).epsilon(1e-9));
    CHECK(result.supply_voltage_V[0] == doctest::Approx(380.0 / std::numbers::sqrt3).epsilon(1e-9));
  }
}

TEST_CASE("elements in parallel and in series make the leg's resistance, hot as well as cold") {
  LoadParameters load = load_of(Connection::star_4_wire, 22.0);
  load.elements = 4;
  CHECK(leg_resistance_ohm(load, 0, 20.0) == 5.5);
  load.grouping = Grouping::series;
  CHECK(leg_resistance_ohm(load, 0, 20.0) == 88.0);
  load.material = find_material("tungsten");
  CHECK(leg_resistance_ohm(load, 2, 1726.85) == doctest::Approx(88.0 * 10.030 * 1.0301).epsilon(2e-3));
  const auto result = solved(Network(SupplyParameters{}, {load}), {{true, 0.0, 1726.85, {}}});
  CHECK(result.loads[0].leg_resistance_ohm[2] == leg_resistance_ohm(load, 2, 1726.85));
}

TEST_CASE("a load whose contactor is open takes nothing and sags nobody") {
  const std::vector<LoadParameters> loads{load_of(Connection::single_phase, 5.0),
                                          load_of(Connection::single_phase, 5.0)};
  Network network(single_phase(230.0, 0.5), loads);
  Conduction open = at_angle(0.0);
  open.connected = false;
  const auto result = solved(network, {open, at_angle(0.0)});
  CHECK(result.loads[0].legs[0].power_W == 0.0);
  CHECK(result.loads[1].legs[0].current_A == doctest::Approx(230.0 / 5.5).epsilon(1e-12));
  // With everything off the busbar has the supply's own voltage.
  CHECK(solved(network, {open, open}).supply_voltage_V[0] == doctest::Approx(230.0).epsilon(1e-12));
}

TEST_CASE("full conduction asks for one load and leaves the others as they are") {
  const std::vector<LoadParameters> loads{load_of(Connection::star_4_wire, 5.0),
                                          load_of(Connection::star_4_wire, 8.0),
                                          load_of(Connection::delta, 20.0)};
  SupplyParameters supply;
  supply.resistance_ohm = 0.05;
  Network network(supply, loads);
  Conduction open = at_angle(180.0);
  open.connected = false;
  const std::vector<Conduction> states{open, at_angle(75.0), at_angle(0.0)};
  for (std::size_t index = 0; index < loads.size(); ++index) {
    CAPTURE(index);
    auto changed = states;
    changed[index] = at_angle(0.0);
    static_cast<void>(solved(network, states));
    const auto full = network.full_conduction(index, {}, states);
    const auto expected = solved(network, changed).loads[index];
    CHECK(full.legs[0].power_W == doctest::Approx(expected.legs[0].power_W).epsilon(1e-9));
    CHECK(full.legs[0].voltage_V == doctest::Approx(expected.legs[0].voltage_V).epsilon(1e-9));
    CHECK(full.line_current_A[0] == doctest::Approx(expected.line_current_A[0]).epsilon(1e-9));
  }
}

TEST_CASE("full conduction said to be a load's own moves with its firing, its neighbours or cycles before") {
  std::vector<LegState> faults(5);
  faults[1].forward_open = true;
  faults[2].fuse_open = true;
  faults[3].ageing = 1.4;
  faults[4].backward_shorted = true;
  for (const auto connection : {Connection::single_phase, Connection::star_4_wire, Connection::star_3_wire,
                                Connection::delta, Connection::open_delta})
    for (const auto& fault : faults) {
      CAPTURE(connection);
      std::vector<LoadParameters> loads{load_of(connection, 20.0), load_of(Connection::star_3_wire, 8.0)};
      loads[0].leakage_A = 0.01;
      loads[0].across = Across::l2_l3;
      Conduction own = at_angle(180.0);
      own.legs[0] = fault;
      SupplyState low;
      low.share = {0.9, 1.0, 0.8};
      for (const auto& supply_state : {SupplyState{}, low}) {
        REQUIRE(full_conduction_is_its_own(SupplyParameters{}, true, supply_state, loads[0]));
        const auto first =
            Network(SupplyParameters{}, loads).full_conduction(0, supply_state, {own, at_angle(180.0)});
        Network network(SupplyParameters{}, loads);
        NetworkResult result;
        for (const double angle : {0.0, 37.0, 180.0, 0.0, 121.0, 180.0}) {
          auto fired = own;
          fired.firing_angle_deg = angle;
          if (angle == 0.0) fired.first_half_deg = 60.0;
          const std::vector<Conduction> states{fired, at_angle(180.0 - angle)};
          network.solve(supply_state, states, result);
          network.next_cycle();
          const auto full = network.full_conduction(0, supply_state, states);
          for (std::size_t l = 0; l < 3; ++l) {
            CHECK(full.legs[l].voltage_V == first.legs[l].voltage_V);
            CHECK(full.legs[l].current_A == first.legs[l].current_A);
            CHECK(full.legs[l].power_W == first.legs[l].power_W);
          }
        }
      }
    }
}

TEST_CASE("full conduction is said to be a load's own where others or the past have a hand in it") {
  const auto load = load_of(Connection::delta, 20.0);
  SupplyParameters weak;
  weak.resistance_ohm = 0.05;
  CHECK_FALSE(full_conduction_is_its_own(weak, true, {}, load));
  CHECK(full_conduction_is_its_own(weak, false, {}, load));
  SupplyState open;
  open.open[1] = true;
  CHECK_FALSE(full_conduction_is_its_own({}, true, open, load));
  SupplyParameters inductive;
  inductive.inductance_H = 1e-4;
  CHECK_FALSE(full_conduction_is_its_own(inductive, false, {}, load));
  auto coil = load;
  coil.inductance_H = alike(1e-3);
  CHECK_FALSE(full_conduction_is_its_own({}, false, {}, coil));
  auto fed = load;
  fed.transformer = TransformerParameters{};
  CHECK_FALSE(full_conduction_is_its_own({}, false, {}, fed));
}

TEST_CASE("the voltage across a leg without load is that of its connection") {
  Network network(SupplyParameters{},
                  {load_of(Connection::star_4_wire, 5.0), load_of(Connection::delta, 5.0)});
  CHECK(network.leg_supply_V(0) == doctest::Approx(230.9401).epsilon(1e-6));
  CHECK(network.leg_supply_V(1) == 400.0);
  CHECK(Network(single_phase(230.0, 0.0), {load_of(Connection::single_phase, 5.0)}).leg_supply_V(0) == 230.0);
}

TEST_CASE("a result that is used again keeps nothing of the last answer") {
  Network network(SupplyParameters{},
                  {load_of(Connection::star_4_wire, 5.0), load_of(Connection::delta, 5.0)});
  NetworkResult again;
  network.solve({}, {at_angle(60.0), at_angle(0.0)}, again);
  auto open = at_angle(0.0);
  open.connected = false;
  network.solve({}, {open, open}, again);
  for (const auto& load : again.loads) {
    CHECK(load.legs[0].power_W == 0.0);
    CHECK(load.line_current_A[2] == 0.0);
    CHECK(load.neutral_current_A == 0.0);
    CHECK(load.pairs[1].peak_A == 0.0);
  }
}

TEST_CASE("power falls steadily as the angle grows, whatever the neighbours do") {
  std::vector<LoadParameters> loads{load_of(Connection::star_4_wire, 5.0),
                                    load_of(Connection::star_4_wire, 8.0), load_of(Connection::delta, 20.0)};
  for (auto& load : loads) load.thyristor_drop_V = 1.2;
  SupplyParameters supply;
  supply.resistance_ohm = 0.3;
  Network network(supply, loads);
  for (const double delta_deg : {0.0, 180.0}) {
    double last_W = std::numeric_limits<double>::infinity();
    for (int step = 0; step <= 360; ++step) {
      const double angle = 0.5 * step;
      const auto result = solved(network, {at_angle(angle), at_angle(90.0), at_angle(delta_deg)});
      const double power_W = result.loads[0].legs[0].power_W;
      CAPTURE(angle);
      CHECK(power_W <= last_W + 1e-9);
      CHECK(std::isfinite(result.loads[0].neutral_current_A));
      last_W = power_W;
    }
    CHECK(last_W < 1e-9);  // what leaks
  }
}

TEST_CASE("loads that cannot be are refused with what was expected instead") {
  const auto only = [](const LoadParameters& load) {
    const auto problems = Network::problems(SupplyParameters{}, load);
    REQUIRE(problems.size() == 1);
    return problems[0];
  };
  auto load = load_of(Connection::star_4_wire, 5.0);
  load.controlled_legs = 2;
  CHECK(only(load) ==
        "controlled_legs: given 2 with star-4-wire, expected 3: only star-3-wire and delta can do with two");
  load.controlled_legs = 1;
  CHECK(only(load) == "controlled_legs: given 1, expected 3 or 2");
  load = load_of(Connection::delta, 5.0);
  load.transformer = TransformerParameters{};
  CHECK(only(load) == "transformer: given with delta, expected single-phase, star-4-wire or open-delta");
  load = load_of(Connection::open_delta, 5.0);
  load.transformer = TransformerParameters{};
  CHECK(Network::problems(SupplyParameters{}, load).empty());
  load.transformer->remanence = 1.5;
  CHECK(only(load) == "transformer: remanence: given 1.5, expected 0 or more, and below the knee");
  load.transformer.reset();
  load.inductance_H[2] = -1e-3;
  CHECK(only(load) == "inductance: given -0.001 H, expected 0 H or more");
  load = load_of(Connection::star_3_wire, 5.0);
  load.cold_resistance_ohm[1] = 0.0;
  CHECK(only(load) == "cold_resistance: given 0 ohm, expected a value above 0 ohm");
  SupplyParameters supply;
  supply.phase_share[1] = -0.1;
  CHECK(Network::problems(supply).size() == 1);
}

TEST_CASE("parameters that cannot be are refused in one line each") {
  SupplyParameters supply;
  LoadParameters load = load_of(Connection::star_4_wire, 5.0);
  CHECK(Network::problems(supply).empty());
  CHECK(Network::problems(supply, load).empty());

  supply.voltage_V = -400.0;
  supply.frequency_Hz = std::nan("");
  supply.resistance_ohm = -0.1;
  const auto supply_problems = Network::problems(supply);
  REQUIRE(supply_problems.size() == 3);
  CHECK(supply_problems[0] == "voltage: given -400 V, expected a value above 0 V");
  CHECK(supply_problems[2] == "impedance: given -0.1 ohm, expected 0 ohm or more");

  load.elements = 0;
  load.material = nullptr;
  load.cold_resistance_ohm = alike(-22.0);
  load.thyristor_drop_V = -1.0;
  const auto load_problems = Network::problems(SupplyParameters{}, load);
  REQUIRE(load_problems.size() == 4);
  CHECK(load_problems[0] == "elements: given 0, expected 1 or more");
  CHECK(load_problems[1].find("nickel-chromium") != std::string::npos);
  CHECK(load_problems[2] == "cold_resistance: given -22 ohm, expected a value above 0 ohm");

  const auto star_on_single =
      Network::problems(single_phase(230.0, 0.0), load_of(Connection::star_4_wire, 5.0));
  REQUIRE(star_on_single.size() == 1);
  CHECK(star_on_single[0].find("star-4-wire on a single-phase supply") != std::string::npos);
}
