#include <cmath>
#include <numbers>

#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"
#include "tests/support/plant_loads.hpp"

using namespace emberline::plant;

namespace {

constexpr double kPi = std::numbers::pi;
/// Peak of the integral of 230 V at 50 Hz.
const double kFlux_Vs = std::numbers::sqrt2 * 230.0 / (100.0 * kPi);

LoadParameters with_transformer(const TransformerParameters& transformer, double secondary_ohm) {
  auto load = ideal_load(Connection::single_phase, secondary_ohm);
  load.transformer = transformer;
  return load;
}

TransformerParameters lossless() {
  TransformerParameters transformer;
  transformer.ratio = 10.0;
  transformer.magnetising_inductance_H = 2.0;
  transformer.knee = 1.2;
  transformer.saturated_inductance_H = 5e-3;
  return transformer;
}

/// The first cycle of a burst, its first half-wave fired at this angle.
LoadResult energised(const LoadParameters& load, double first_deg) {
  Network network(single_phase_supply(230.0), {load});
  Conduction state = fired_at(0.0);
  state.first_half_deg = first_deg;
  NetworkResult result;
  network.solve({}, {state}, result);
  return result.loads[0];
}

}  // namespace

TEST_CASE("a transformer's load is seen from the primary times the ratio squared") {
  // Below the knee: P = V^2/(ratio^2 R), beside the magnetising current V/(w L).
  const auto result = solved_alone(single_phase_supply(230.0), with_transformer(lossless(), 0.1), [] {
    Conduction state = fired_at(90.0);
    return state;
  }());
  CHECK(result.legs[0].power_W == doctest::Approx(0.5 * 5290.0).epsilon(2e-3));
  const auto full = Network(single_phase_supply(230.0), {with_transformer(lossless(), 0.1)})
                        .full_conduction(0, {}, {fired_at(0.0)});
  CHECK(full.legs[0].power_W == doctest::Approx(5290.0).epsilon(1e-9));
  const double magnetising_A = 230.0 / (100.0 * kPi * 2.0);
  CHECK(full.legs[0].current_A == doctest::Approx(std::hypot(23.0, magnetising_A)).epsilon(1e-9));
}

TEST_CASE("energised at the zero of its voltage a transformer's flux goes to twice its peak") {
  // Any textbook on transformers: flux = peak (1 - cos wt) without losses; the current of a core with two
  // straight pieces follows. Next to nothing is loaded, so that its top is the core's.
  const auto load = with_transformer(lossless(), 1000.0);
  const double knee_Vs = 1.2 * kFlux_Vs;
  const double inrush_A = knee_Vs / 2.0 + (2.0 * kFlux_Vs - knee_Vs) / 5e-3;
  CHECK(energised(load, 0.0).pairs[0].peak_A == doctest::Approx(inrush_A).epsilon(2e-3));
  CHECK(energised(load, 0.0).pairs[0].dc_A > 20.0);

  SUBCASE("what remains in the core is added") {
    auto transformer = lossless();
    transformer.remanence = 0.5;
    const double more_A = knee_Vs / 2.0 + (2.5 * kFlux_Vs - knee_Vs) / 5e-3;
    CHECK(energised(with_transformer(transformer, 1000.0), 0.0).pairs[0].peak_A ==
          doctest::Approx(more_A).epsilon(2e-3));
  }
  SUBCASE("at 90 degrees there is no inrush") {
    const auto soft = energised(with_transformer(lossless(), 0.1), 90.0);
    CHECK(soft.pairs[0].peak_A < std::numbers::sqrt2 * 23.0 + kFlux_Vs / 2.0);
    CHECK(std::abs(soft.pairs[0].dc_A) < 0.3 * 23.0);  // a quarter of a half-wave is missing
  }
}

TEST_CASE("an inrush dies away with the losses of the winding") {
  auto transformer = lossless();
  transformer.winding_resistance_ohm = 0.5;
  transformer.leakage_inductance_H = 1e-3;
  Network network(single_phase_supply(230.0), {with_transformer(transformer, 0.1)});
  NetworkResult result;
  double last_A = 1e9;
  for (int cycle = 0; cycle < 20; ++cycle) {
    network.solve({}, {fired_at(0.0)}, result);
    network.next_cycle();
    CHECK(result.loads[0].pairs[0].peak_A < last_A);
    last_A = result.loads[0].pairs[0].peak_A;
  }
  CHECK(last_A < 40.0);
}

TEST_CASE("magnetised softly a transformer draws no inrush") {
  auto transformer = lossless();
  transformer.winding_resistance_ohm = 0.5;
  transformer.leakage_inductance_H = 1e-3;
  transformer.remanence = 0.4;
  Network network(single_phase_supply(230.0), {with_transformer(transformer, 0.1)});
  NetworkResult result;
  double highest_A = 0.0;
  for (int cycle = 0; cycle < 50; ++cycle) {
    network.solve({}, {fired_at(170.0 - 3.4 * cycle)}, result);
    network.next_cycle();
    highest_A = std::max(highest_A, result.loads[0].pairs[0].peak_A);
  }
  CHECK(highest_A < 1.1 * std::numbers::sqrt2 * 23.0);
  CHECK(energised(with_transformer(transformer, 0.1), 0.0).pairs[0].peak_A > 100.0);
}

TEST_CASE("winding resistance and leakage take what phasors say") {
  auto transformer = lossless();
  transformer.winding_resistance_ohm = 0.5;
  transformer.leakage_inductance_H = 2e-3;
  // A core that does not count: Z = 0.5 + 10 + j w 2 mH.
  transformer.magnetising_inductance_H = 1e6;
  auto load = with_transformer(transformer, 0.1);
  const double impedance = std::hypot(10.5, 100.0 * kPi * 2e-3);
  const auto result = solved_alone(single_phase_supply(230.0), load, fired_at(0.0));
  CHECK(result.legs[0].current_A == doctest::Approx(230.0 / impedance).epsilon(1e-4));
  CHECK(result.legs[0].power_W ==
        doctest::Approx(230.0 * 230.0 / impedance / impedance * 10.5).epsilon(2e-4));
}

TEST_CASE("three transformers in star and in open delta feed alike what is alike") {
  for (const auto connection : {Connection::star_4_wire, Connection::open_delta}) {
    auto load = ideal_load(connection, 0.1);
    load.transformer = lossless();
    load.transformer->winding_resistance_ohm = 1.0;
    Conduction state = fired_at(100.0);
    const auto result = solved_alone(three_phase_supply(400.0), load, state);
    for (std::size_t leg = 0; leg < 3; ++leg) {
      CHECK(result.legs[leg].power_W > 100.0);
      CHECK(result.legs[leg].power_W == doctest::Approx(result.legs[0].power_W).epsilon(1e-3));
    }
  }
}

TEST_CASE("behind a transformer the elements get no heat of the winding and the core") {
  auto transformer = lossless();
  transformer.winding_resistance_ohm = 0.5;
  transformer.leakage_inductance_H = 2e-3;
  transformer.magnetising_inductance_H = 1e6;
  const auto load = with_transformer(transformer, 0.1);
  // One current through 0.5 ohm of winding and 10 ohm of elements.
  const auto fired = solved_alone(single_phase_supply(230.0), load, fired_at(0.0));
  const auto full = Network(single_phase_supply(230.0), {load}).full_conduction(0, {}, {fired_at(180.0)});
  for (const auto& result : {fired, full})
    CHECK(result.element_W[0] == doctest::Approx(result.legs[0].power_W * 10.0 / 10.5).epsilon(2e-4));
  // With a saturating core under phase control: the winding takes I^2 R of the primary current, the core
  // nothing.
  transformer.magnetising_inductance_H = 0.5;
  transformer.knee = 0.8;
  const auto heavy =
      solved_alone(single_phase_supply(230.0), with_transformer(transformer, 0.1), fired_at(60.0));
  const double primary_A = heavy.legs[0].current_A;
  CHECK(heavy.element_W[0] < 0.98 * heavy.legs[0].power_W);
  CHECK(heavy.element_W[0] + 0.5 * primary_A * primary_A ==
        doctest::Approx(heavy.legs[0].power_W).epsilon(1e-3));
  const auto open = [&] {
    Conduction state = fired_at(0.0);
    state.legs[0].elements_open = 1;
    return solved_alone(single_phase_supply(230.0), with_transformer(transformer, 0.1), state);
  }();
  CHECK(open.element_W[0] == 0.0);
}
