#include <cmath>
#include <numbers>
#include <vector>

#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"
#include "tests/plant-models/sampled_network.hpp"
#include "tests/support/solved.hpp"

using namespace emberline::plant;

namespace {

struct Given {
  Connection connection;
  double leg_ohm, drop_V, angle_deg;
};

void check_against_samples(System system, double supply_V, double source_ohm, const std::vector<Given>& given,
                           int samples, double tolerance) {
  SupplyParameters supply;
  supply.system = system;
  supply.voltage_V = supply_V;
  supply.resistance_ohm = source_ohm;
  std::vector<LoadParameters> loads;
  std::vector<Conduction> states;
  std::vector<sampled::Load> slow;
  for (const auto& one : given) {
    LoadParameters load;
    load.connection = one.connection;
    load.material = find_material("constant");
    load.cold_resistance_ohm = alike(one.leg_ohm);
    load.thyristor_drop_V = one.drop_V;
    loads.push_back(load);
    Conduction state;
    state.firing_angle_deg = one.angle_deg;
    states.push_back(state);
    slow.push_back({one.connection == Connection::open_delta, 1.0 / one.leg_ohm, one.drop_V, one.angle_deg});
  }
  const bool three = system == System::three_phase;
  const double peak_V = std::numbers::sqrt2 * supply_V / (three ? std::numbers::sqrt3 : 1.0);
  const auto expected = sampled::solve(three ? 3 : 1, peak_V, source_ohm, slow, samples);
  const auto result = solved(Network(supply, loads), states);

  CHECK(result.supply_voltage_V[0] == doctest::Approx(std::sqrt(expected.node)).epsilon(tolerance));
  for (std::size_t index = 0; index < given.size(); ++index) {
    CAPTURE(index);
    const auto& load = result.loads[index];
    const auto& means = expected.loads[index];
    // RMS values near zero are compared on the scale of the load's full current.
    const double full_A = supply_V / given[index].leg_ohm;
    CHECK(std::abs(load.legs[0].current_A - std::sqrt(means.branch)) <= tolerance * full_A);
    CHECK(std::abs(load.line_current_A[0] - std::sqrt(means.line)) <= tolerance * full_A);
    CHECK(load.legs[0].power_W == doctest::Approx(means.branch * given[index].leg_ohm).epsilon(tolerance));
    if (given[index].connection == Connection::star_4_wire)
      CHECK(std::abs(load.neutral_current_A - std::sqrt(means.neutral)) <= tolerance * full_A);
  }
}

constexpr auto kStar = Connection::star_4_wire;
constexpr auto kDelta = Connection::open_delta;
constexpr auto kSingle = Connection::single_phase;
/// Angles that are multiples of 0.1 degrees fall between the midpoints of these, so that the samples' own
/// error is that of smooth stretches.
constexpr int kFine = 180'000;
constexpr int kCoarse = 7'200;

}  // namespace

TEST_CASE("neighbours at different angles see each other's sag as sampling shows it") {
  check_against_samples(System::single_phase, 230.0, 0.2,
                        {{kSingle, 5.0, 0.0, 60.0}, {kSingle, 8.0, 0.0, 100.0}}, kFine, 1e-7);
  check_against_samples(System::single_phase, 230.0, 0.2,
                        {{kSingle, 5.0, 1.2, 110.0}, {kSingle, 8.0, 2.5, 30.0}, {kSingle, 12.0, 0.0, 0.0}},
                        kFine, 1e-7);
}

TEST_CASE("the thyristor drop shortens conduction as sampling shows it") {
  // A low voltage and a large drop, so that it counts.
  check_against_samples(System::single_phase, 24.0, 0.0, {{kSingle, 2.0, 1.2, 0.0}}, kFine, 1e-7);
  check_against_samples(System::single_phase, 24.0, 0.5, {{kSingle, 2.0, 3.0, 90.0}}, kFine, 1e-7);
  // Fired after the voltage has fallen below the drop: nothing flows.
  check_against_samples(System::single_phase, 24.0, 0.5, {{kSingle, 2.0, 10.0, 170.0}}, kFine, 1e-7);
}

TEST_CASE("a neighbour with less drop delays a load with more, and can put it out, as sampling shows") {
  // A weak source and very different drops: the second load begins where the source, not the node, is 19 V.
  check_against_samples(System::single_phase, 24.0, 1.0,
                        {{kSingle, 1.0, 1.0, 0.0}, {kSingle, 0.5, 10.0, 0.0}}, kFine, 1e-6);
  check_against_samples(System::single_phase, 24.0, 1.0,
                        {{kSingle, 0.5, 10.0, 0.0}, {kSingle, 0.3, 1.0, 50.0}, {kSingle, 2.0, 5.0, 20.0}},
                        kFine, 1e-6);
}

TEST_CASE("neutral currents of loads behind one busbar are as sampling shows them") {
  check_against_samples(System::three_phase, 400.0, 0.1,
                        {{kStar, 5.5, 1.2, 68.0}, {kStar, 7.0, 0.0, 120.5}, {kStar, 9.0, 2.0, 0.0}}, kCoarse,
                        1e-6);
  check_against_samples(System::three_phase, 42.0, 0.1, {{kStar, 2.0, 4.0, 0.0}, {kStar, 3.0, 4.0, 150.0}},
                        kCoarse, 1e-6);
}

TEST_CASE("a crowd of loads, each with an angle of its own, takes what sampling shows") {
  std::vector<Given> crowd;
  for (int index = 0; index < 36; ++index) {
    const double drop_V = index % 3 == 0 ? 1.2 : index % 3 == 1 ? 0.0 : 2.5;
    crowd.push_back({kStar, 40.0 + 7.0 * index, drop_V, 0.1 * ((index * 487) % 1799)});
  }
  check_against_samples(System::three_phase, 400.0, 0.0, crowd, kCoarse, 1e-6);
  check_against_samples(System::three_phase, 400.0, 0.05, crowd, kCoarse, 1e-6);
}

TEST_CASE("an open delta's thyristor drop is across each element branch") {
  check_against_samples(System::three_phase, 42.0, 0.0, {{kDelta, 3.0, 4.0, 0.0}}, kCoarse, 1e-6);
  check_against_samples(System::three_phase, 42.0, 0.15, {{kDelta, 3.0, 4.0, 0.0}}, kCoarse, 1e-6);
}

TEST_CASE("an open delta and phase-fired stars behind one source are solved together") {
  check_against_samples(System::three_phase, 400.0, 0.2,
                        {{kStar, 5.5, 1.2, 68.0}, {kDelta, 16.0, 1.2, 0.0}, {kStar, 7.0, 0.0, 120.5}},
                        kCoarse, 2e-6);
  check_against_samples(System::three_phase, 48.0, 0.3,
                        {{kDelta, 4.0, 2.0, 0.0}, {kStar, 3.0, 1.0, 0.0}, {kDelta, 9.0, 0.0, 0.0}}, kCoarse,
                        2e-6);
  check_against_samples(System::three_phase, 400.0, 0.2,
                        {{kDelta, 16.0, 1.2, 180.0}, {kStar, 7.0, 1.0, 45.0}}, kCoarse, 2e-6);
}
