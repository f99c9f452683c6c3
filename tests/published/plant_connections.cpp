#include <cmath>
#include <numbers>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"
#include "tests/support/plant_loads.hpp"

using namespace emberline::plant;

namespace {

constexpr double kElement_ohm = 16.0;

LoadResult with_open_legs(Connection connection, const std::vector<std::size_t>& open) {
  Conduction state = fired_at(0.0);
  for (const std::size_t leg : open) state.legs[leg].elements_open = 1;
  return solved_alone(three_phase_supply(400.0), ideal_load(connection, kElement_ohm), state);
}

LoadResult with_open_line(Connection connection, std::size_t line) {
  SupplyState supply;
  supply.open[line] = true;
  return solved_alone(three_phase_supply(400.0), ideal_load(connection, kElement_ohm), fired_at(0.0), supply);
}

}  // namespace

TEST_CASE("an open element or a lost line leaves what circuit theory says") {
  // Three-phase circuit theory (any textbook), 400 V and elements of 16 ohm; digits recomputed.
  struct Case {
    const char* what;
    LoadResult load;
    double power_W;
    std::array<double, 3> line_A;
    double neutral_A;
  };
  const Case cases[] = {
      {"star without neutral, L3 open: half",
       with_open_legs(Connection::star_3_wire, {2}),
       5000,
       {12.5, 12.5, 0},
       0},
      {"star with neutral, L3 open: two thirds",
       with_open_legs(Connection::star_4_wire, {2}),
       6666.667,
       {14.434, 14.434, 0},
       14.434},
      {"delta, L23 open: two thirds", with_open_legs(Connection::delta, {1}), 20000, {43.301, 25, 25}, 0},
      {"delta, two open: a third", with_open_legs(Connection::delta, {1, 2}), 10000, {25, 25, 0}, 0},
      {"star without neutral, line 3 lost: half",
       with_open_line(Connection::star_3_wire, 2),
       5000,
       {12.5, 12.5, 0},
       0},
      {"delta, line 3 lost: R beside 2R, half",
       with_open_line(Connection::delta, 2),
       15000,
       {37.5, 37.5, 0},
       0},
      {"star with neutral, line 2 lost: two thirds",
       with_open_line(Connection::star_4_wire, 1),
       6666.667,
       {14.434, 0, 14.434},
       14.434},
  };
  for (const auto& row : cases) {
    CAPTURE(row.what);
    CHECK(total_W(row.load) == doctest::Approx(row.power_W).epsilon(1e-6));
    for (std::size_t line = 0; line < 3; ++line)
      CHECK(std::abs(row.load.line_current_A[line] - row.line_A[line]) <= 5e-4);
    CHECK(std::abs(row.load.neutral_current_A - row.neutral_A) <= 5e-4);
  }
}

TEST_CASE("the star point moves when a leg opens: 1.5 times the phase voltage across it") {
  // Star point at the midpoint of the two other phases: 1.5 Vs and 0.8660 Vs.
  const auto load = with_open_legs(Connection::star_3_wire, {0});
  CHECK(std::abs(load.legs[0].voltage_V - 346.41) <= 5e-3);
  CHECK(std::abs(load.legs[1].voltage_V - 200.00) <= 5e-3);
  CHECK(std::abs(load.legs[2].voltage_V - 200.00) <= 5e-3);
  CHECK(std::isinf(load.leg_resistance_ohm[0]));
}

TEST_CASE("one of several parallel elements open is seen as the formulas of partial failure say") {
  // With g = (n - 1)/n: star without neutral V_n = (g - 1)/(g + 2), I_a = 3g/(g + 2), P = (2g + 1)/(g + 2);
  // delta and star with neutral P = (2 + g)/3. Closed forms of circuit theory, six digits.
  constexpr struct {
    int elements;
    double star_power, broken_A, sound_A, others_power;
  } rows[] = {{1, 0.500000, 0.0, 0.866025, 0.666667},      {2, 0.800000, 0.600000, 0.916515, 0.833333},
              {3, 0.875000, 0.750000, 0.943729, 0.888889}, {4, 0.909091, 0.818182, 0.957787, 0.916667},
              {5, 0.928571, 0.857143, 0.966268, 0.933333}, {6, 0.941176, 0.882353, 0.971924, 0.944444},
              {8, 0.956522, 0.913043, 0.978985, 0.958333}, {10, 0.965517, 0.931034, 0.983212, 0.966667}};
  Conduction state = fired_at(0.0);
  state.legs[0].elements_open = 1;
  const auto solved_with = [&](Connection connection, int elements) {
    auto load = ideal_load(connection, kElement_ohm * elements);
    load.elements = elements;
    return solved_alone(three_phase_supply(400.0), load, state);
  };
  const double full_A = 400.0 / std::numbers::sqrt3 / kElement_ohm;
  for (const auto& row : rows) {
    CAPTURE(row.elements);
    const auto star = solved_with(Connection::star_3_wire, row.elements);
    CHECK(std::abs(total_W(star) / 1e4 - row.star_power) <= 1e-6);
    CHECK(std::abs(star.line_current_A[0] / full_A - row.broken_A) <= 1e-6);
    CHECK(std::abs(star.line_current_A[1] / full_A - row.sound_A) <= 1e-6);
    CHECK(std::abs(star.line_current_A[2] / full_A - row.sound_A) <= 1e-6);
    CHECK(std::abs(total_W(solved_with(Connection::star_4_wire, row.elements)) / 1e4 - row.others_power) <=
          1e-6);
    CHECK(std::abs(total_W(solved_with(Connection::delta, row.elements)) / 3e4 - row.others_power) <= 1e-6);
  }
}

TEST_CASE("single-phase loads on a three-phase supply get their voltage and fill their lines") {
  // Ohm's law: 230.94 V or 400 V across 16 ohm.
  constexpr struct {
    Across across;
    double volts;
    std::array<bool, 3> lines;
    bool neutral;
  } rows[] = {{Across::l1_n, 230.9401, {true, false, false}, true},
              {Across::l2_n, 230.9401, {false, true, false}, true},
              {Across::l3_n, 230.9401, {false, false, true}, true},
              {Across::l1_l2, 400.0, {true, true, false}, false},
              {Across::l2_l3, 400.0, {false, true, true}, false},
              {Across::l3_l1, 400.0, {true, false, true}, false}};
  for (const auto& row : rows) {
    auto load = ideal_load(Connection::single_phase, kElement_ohm);
    load.across = row.across;
    for (const double angle : {0.0, 90.0}) {
      const double share = angle > 0.0 ? std::sqrt(0.5) : 1.0;  // of the voltage, by the single-phase law
      Network network(three_phase_supply(400.0), {load});
      const auto result = solved(network, {fired_at(angle)});
      CHECK(network.leg_supply_V(0) == doctest::Approx(row.volts).epsilon(1e-6));
      CHECK(result.loads[0].legs[0].voltage_V == doctest::Approx(share * row.volts).epsilon(1e-6));
      for (std::size_t line = 0; line < 3; ++line) {
        const double expected_A = row.lines[line] ? share * row.volts / kElement_ohm : 0.0;
        CHECK(result.loads[0].line_current_A[line] == doctest::Approx(expected_A).epsilon(1e-6));
        CHECK(result.supply_current_A[line] == doctest::Approx(expected_A).epsilon(1e-6));
      }
      CHECK((result.supply_neutral_A > 1.0) == row.neutral);
    }
  }
}

TEST_CASE("an unbalanced supply or load is solved phase by phase") {
  SUBCASE("star with neutral: each leg by Ohm's law") {
    auto supply = three_phase_supply(400.0);
    supply.phase_share = {1.0, 0.9, 1.1};
    const auto load =
        solved_alone(supply, ideal_load(Connection::star_4_wire, {10.0, 20.0, 40.0}), fired_at(0.0));
    const double phase_V = 400.0 / std::numbers::sqrt3;
    CHECK(load.legs[0].current_A == doctest::Approx(phase_V / 10.0).epsilon(1e-9));
    CHECK(load.legs[1].current_A == doctest::Approx(0.9 * phase_V / 20.0).epsilon(1e-9));
    CHECK(load.legs[2].current_A == doctest::Approx(1.1 * phase_V / 40.0).epsilon(1e-9));
  }
  SUBCASE("star without neutral: Millman's theorem") {
    // Star point n = sum G v / sum G with v = 1, a^2, a and G = 4, 2, 1: |n|^2 = (16+4+1-8-4-2)/49 = 1/7.
    const auto load = solved_alone(three_phase_supply(400.0),
                                   ideal_load(Connection::star_3_wire, {10.0, 20.0, 40.0}), fired_at(0.0));
    const double square_V = 160000.0 / 3.0;
    // Power = sum G |v|^2 - (sum G) |n|^2.
    const double sum_S = 0.1 + 0.05 + 0.025;
    CHECK(total_W(load) == doctest::Approx(square_V * sum_S * (1.0 - 1.0 / 7.0)).epsilon(1e-9));
  }
}

TEST_CASE("a dip takes the square of itself from the power") {
  SupplyState supply;
  supply.share = {0.7, 0.7, 0.7};
  const auto load = solved_alone(three_phase_supply(400.0), ideal_load(Connection::star_3_wire, kElement_ohm),
                                 fired_at(75.0), supply);
  CHECK(total_W(load) == doctest::Approx(0.49 * 5000.0).epsilon(1e-6));
}
