#include <array>
#include <cmath>
#include <string>

#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"
#include "tests/interop/ngspice/compare.hpp"
#include "tests/interop/ngspice/places.hpp"

using namespace emberline;
using namespace emberline::spice;
using plant::Connection;

namespace {

constexpr double kShare = 0.01;  // of the largest sample, RMS of the difference

/// The signal where plant::Waves has its samples of the last cycle.
plant::Waves::Wave sampled(const Solution& solved, const Signal& signal, const PowerStage& stage) {
  plant::Waves::Wave wave{};
  const double period_s = 1.0 / stage.supply_state.frequency_Hz;
  const double begin_s = period_s * static_cast<double>(stage.cycles.size() - 1);
  for (std::size_t k = 0; k < wave.size(); ++k)
    wave[k] = solved.at(
        signal, begin_s + period_s * (static_cast<double>(k) + 0.5) / static_cast<double>(wave.size()));
  return wave;
}

double difference(const plant::Waves::Wave& ours, const plant::Waves::Wave& theirs) {
  double sum = 0.0, largest = 1e-3;
  for (std::size_t k = 0; k < ours.size(); ++k) {
    sum += (ours[k] - theirs[k]) * (ours[k] - theirs[k]);
    largest = std::max(largest, std::abs(theirs[k]));
  }
  return std::sqrt(sum / static_cast<double>(ours.size())) / largest;
}

plant::Waves our_waves(const PowerStage& stage) {
  plant::Network network(stage.supply, stage.loads);
  plant::NetworkResult ignored;
  for (std::size_t cycle = 0; cycle + 1 < stage.cycles.size(); ++cycle) {
    network.solve(stage.supply_state, stage.cycles[cycle], ignored);
    network.next_cycle();
  }
  return network.waves(0, stage.supply_state, stage.cycles.back());
}

}  // namespace

TEST_CASE("the drawn waves are those of ngspice") {
  const std::array<double, 3> ohm{16, 16, 16}, unequal{8.6, 12.3, 19.7}, henry{25e-3, 25e-3, 25e-3};
  const Case cases[] = {
      steady("star with neutral behind 0.4 ohm, at 50", mains(0.4),
             {load_of(Connection::star_4_wire, unequal)}, 50),
      steady("star without neutral, at 40", mains(0.2), {load_of(Connection::star_3_wire, unequal)}, 40),
      steady("star without neutral, inductive, at 75", mains(),
             {load_of(Connection::star_3_wire, ohm, henry)}, 75, 5),
      steady("delta, at 100", mains(), {load_of(Connection::delta, ohm)}, 100),
      steady("six wires, inductive, at 110", mains(), {load_of(Connection::open_delta, ohm, henry)}, 110, 5),
  };
  for (const auto& one : cases) {
    CAPTURE(one.name);
    const plant::Waves waves = our_waves(one.stage);
    const Solution solved = simulate(circuit_of(one.stage));
    for (std::size_t leg = 0; leg < 3; ++leg) {
      CAPTURE(leg);
      const std::string name = name_of(0, leg), line = std::to_string(leg + 1);
      const auto [from, to] = nodes_of(one.stage.loads[0], 0, leg);
      const Signal across =
          to == "0" ? solved["v(" + from + ")"] : solved.difference("v(" + from + ")", "v(" + to + ")");
      CHECK(difference(waves.voltage_V[leg], sampled(solved, across, one.stage)) < kShare);
      CHECK(difference(waves.current_A[leg], sampled(solved, solved["i(vleg" + name + ")"], one.stage)) <
            kShare);
      CHECK(difference(waves.line_A[leg], sampled(solved, solved["i(vline" + line + ")"], one.stage)) <
            kShare);
      CHECK(difference(waves.supply_V[leg], sampled(solved, solved["v(bus" + line + ")"], one.stage)) <
            kShare);
    }
  }
}

TEST_CASE("what a load would take at full conduction is what ngspice gives when it is fired so") {
  const std::array<double, 3> ohm{16, 16, 16}, unequal{8.6, 12.3, 19.7}, henry{25e-3, 25e-3, 25e-3};
  const Case cases[] = {
      steady("star with neutral behind 0.4 ohm", mains(0.4), {load_of(Connection::star_4_wire, unequal)}, 0),
      steady("star without neutral behind 0.4 ohm", mains(0.4), {load_of(Connection::star_3_wire, unequal)},
             0),
      steady("star without neutral, inductive, behind 0.4 ohm, 1 mH", mains(0.4, 1e-3),
             {load_of(Connection::star_3_wire, ohm, henry)}, 0, 6),
      steady("delta behind 0.2 ohm", mains(0.2), {load_of(Connection::delta, unequal)}, 0),
      steady("six wires, inductive", mains(), {load_of(Connection::open_delta, ohm, henry)}, 0, 6),
  };
  for (const auto& one : cases) {
    CAPTURE(one.name);
    const auto theirs = simulate_cycles(one.stage, one.first).back().loads[0];
    plant::Network network(one.stage.supply, one.stage.loads);
    auto states = one.stage.cycles.back();
    states[0].firing_angle_deg = 90.0;
    plant::NetworkResult ignored;
    network.solve(one.stage.supply_state, states, ignored);
    const auto ours = network.full_conduction(0, one.stage.supply_state, states);
    for (std::size_t leg = 0; leg < 3; ++leg) {
      CAPTURE(leg);
      CHECK(ours.legs[leg].voltage_V == doctest::Approx(theirs.legs[leg].voltage_V).epsilon(5e-3));
      CHECK(ours.legs[leg].current_A == doctest::Approx(theirs.legs[leg].current_A).epsilon(5e-3));
      CHECK(ours.legs[leg].power_W == doctest::Approx(theirs.legs[leg].power_W).epsilon(1e-2));
      CHECK(ours.line_current_A[leg] == doctest::Approx(theirs.line_current_A[leg]).epsilon(5e-3));
    }
  }
}
