#include <doctest/doctest.h>

#include "tests/interop/ngspice/compare.hpp"

using namespace emberline;
using namespace emberline::spice;
using plant::Connection;

namespace {

constexpr double kLimit = 3e-3;
constexpr std::array<double, 3> kEqual{16, 16, 16};
constexpr std::array<double, 3> kUnequal{8.6, 12.3, 19.7};

std::string at(const std::string& words, int angle) { return words + " at " + std::to_string(angle); }

/// Lets `change` act on the state of the first load in every cycle.
template <class Change>
Case with(Case one, Change change) {
  for (auto& cycle : one.stage.cycles) change(cycle[0]);
  return one;
}

Case element_open(Case one, std::size_t leg) {
  return with(std::move(one), [&](plant::Conduction& state) { state.legs[leg].elements_open = 1; });
}

Case line_open(Case one, std::size_t line) {
  one.stage.supply_state.open[line] = true;
  return one;
}

}  // namespace

TEST_CASE("stars with neutral take what ngspice says") {
  const auto equal = load_of(Connection::star_4_wire, kEqual);
  const auto unequal = load_of(Connection::star_4_wire, kUnequal);
  std::vector<Case> cases;
  for (const int angle : {0, 40, 90, 130})
    cases.push_back(steady(at("star, neutral", angle), mains(), {equal}, angle));
  cases.push_back(steady("star, neutral, unequal, at 90", mains(), {unequal}, 90));
  cases.push_back(steady("star, neutral, unequal, behind 0.3 ohm, at 90", mains(0.3), {unequal}, 90));
  cases.push_back(
      steady("star, neutral, unequal, behind 0.3 ohm, 1 mH, at 60", mains(0.3, 1e-3), {unequal}, 60, 4));
  cases.push_back(element_open(steady("star, neutral, element open, at 50", mains(0.3), {equal}, 50), 1));
  cases.push_back(line_open(steady("star, neutral, line lost, at 50", mains(0.3), {equal}, 50), 2));
  cases.push_back(steady("star, neutral, 16 ohm 30 mH, at 90", mains(),
                         {load_of(Connection::star_4_wire, kEqual, {30e-3, 30e-3, 30e-3})}, 90, 4));
  auto weak = mains(0.1);
  weak.phase_share = {1.0, 0.9, 1.05};
  weak.reversed = true;
  cases.push_back(steady("star, neutral, phases unequal and reversed, at 70", weak, {equal}, 70));
  check_all(cases, kLimit);
}

TEST_CASE("stars without neutral take what ngspice says, in each mode of conduction") {
  const auto equal = load_of(Connection::star_3_wire, kEqual);
  const auto unequal = load_of(Connection::star_3_wire, kUnequal);
  std::vector<Case> cases;
  for (const int angle : {0, 20, 40, 75, 110, 130}) {
    cases.push_back(steady(at("star", angle), mains(), {equal}, angle));
    cases.push_back(steady(at("star, unequal", angle), mains(), {unequal}, angle));
    cases.push_back(element_open(steady(at("star, element open", angle), mains(), {equal}, angle), 1));
    cases.push_back(line_open(steady(at("star, line lost", angle), mains(), {equal}, angle), 2));
    cases.push_back(steady(at("star behind 0.4 ohm", angle), mains(0.4), {equal}, angle));
    cases.push_back(
        steady(at("star, unequal, behind 0.4 ohm, 1.5 mH", angle), mains(0.4, 1.5e-3), {unequal}, angle, 4));
    cases.push_back(steady(at("star, 16 ohm 25 mH", angle), mains(),
                           {load_of(Connection::star_3_wire, kEqual, {25e-3, 25e-3, 25e-3})}, angle, 5));
  }
  auto weak = mains(0.1);
  weak.phase_share = {1.0, 0.9, 1.05};
  cases.push_back(steady("star, phases unequal, at 70", weak, {equal}, 70));
  weak.reversed = true;
  cases.push_back(steady("star, phases unequal and reversed, at 70", weak, {unequal}, 70));
  check_all(cases, kLimit);
}

TEST_CASE("deltas take what ngspice says, thyristors in the lines") {
  const auto equal = load_of(Connection::delta, kEqual);
  const auto unequal = load_of(Connection::delta, kUnequal);
  std::vector<Case> cases;
  for (const int angle : {0, 50, 75, 100}) {
    cases.push_back(steady(at("delta", angle), mains(), {equal}, angle));
    cases.push_back(steady(at("delta, unequal, behind 0.2 ohm", angle), mains(0.2), {unequal}, angle));
    cases.push_back(element_open(steady(at("delta, element open", angle), mains(), {equal}, angle), 1));
    cases.push_back(line_open(steady(at("delta, line lost", angle), mains(), {equal}, angle), 0));
  }
  cases.push_back(steady("delta, 16 ohm 25 mH, behind 0.2 ohm, 1 mH, at 60", mains(0.2, 1e-3),
                         {load_of(Connection::delta, kEqual, {25e-3, 25e-3, 25e-3})}, 60, 5));
  check_all(cases, kLimit);
}

TEST_CASE("deltas with six wires take what ngspice says") {
  const auto equal = load_of(Connection::open_delta, kEqual);
  std::vector<Case> cases;
  for (const int angle : {0, 45, 90, 120}) {
    cases.push_back(steady(at("six wires", angle), mains(), {equal}, angle));
    cases.push_back(steady(at("six wires, unequal, behind 0.2 ohm", angle), mains(0.2),
                           {load_of(Connection::open_delta, kUnequal)}, angle));
    cases.push_back(element_open(steady(at("six wires, element open", angle), mains(), {equal}, angle), 2));
  }
  cases.push_back(line_open(steady("six wires, line lost, at 0", mains(), {equal}, 0), 1));
  cases.push_back(steady("six wires, 16 ohm 25 mH, behind 0.2 ohm, 1 mH, at 80", mains(0.2, 1e-3),
                         {load_of(Connection::open_delta, kEqual, {25e-3, 25e-3, 25e-3})}, 80, 5));
  check_all(cases, kLimit);
}

TEST_CASE("neighbours behind one source see each other as in ngspice") {
  std::vector<Case> cases;
  const auto star = load_of(Connection::star_3_wire, kEqual);
  const auto other = load_of(Connection::star_3_wire, kUnequal);
  const auto two = [&](const std::string& name, const plant::SupplyParameters& supply,
                       const plant::LoadParameters& a, const plant::LoadParameters& b, double first_deg,
                       double second_deg, std::size_t cycles) {
    Case one = steady(name, supply, {a, b}, first_deg, cycles);
    for (auto& cycle : one.stage.cycles) cycle[1].firing_angle_deg = second_deg;
    cases.push_back(one);
  };
  two("two stars behind 0.3 ohm, at 40 and 95", mains(0.3), star, other, 40, 95, 2);
  two("two stars behind 0.3 ohm, 1 mH, at 40 and 95", mains(0.3, 1e-3), star, other, 40, 95, 4);
  two("two stars behind 0.3 ohm, at 70 and 120", mains(0.3), star, other, 70, 120, 2);
  two("star and delta behind 0.3 ohm, at 50 and 80", mains(0.3), star,
      load_of(Connection::delta, {40, 40, 40}), 50, 80, 2);
  two("star with and without neutral behind 0.3 ohm, at 90 and 60", mains(0.3),
      load_of(Connection::star_4_wire, kUnequal), star, 90, 60, 2);
  two("two stars with neutral behind 0.3 ohm, at 60 and 120", mains(0.3),
      load_of(Connection::star_4_wire, kEqual), load_of(Connection::star_4_wire, kEqual), 60, 120, 2);
  check_all(cases, kLimit);
}

TEST_CASE("faulty thyristors in three lines do what they do in ngspice") {
  std::vector<Case> cases;
  for (const auto connection : {Connection::star_3_wire, Connection::delta, Connection::star_4_wire}) {
    const std::string words = connection == Connection::delta         ? "delta"
                              : connection == Connection::star_3_wire ? "star"
                                                                      : "star, neutral";
    const auto load = load_of(connection, kEqual);
    cases.push_back(with(steady(words + ", forward 1 open, at 60", mains(), {load}, 60),
                         [](auto& state) { state.legs[0].forward_open = true; }));
    cases.push_back(with(steady(words + ", both of 2 open, at 60", mains(), {load}, 60), [](auto& state) {
      state.legs[1].forward_open = state.legs[1].backward_open = true;
    }));
    cases.push_back(with(steady(words + ", forward 3 shorted, at 80", mains(), {load}, 80),
                         [](auto& state) { state.legs[2].forward_shorted = true; }));
    cases.push_back(with(steady(words + ", 1 shorted, off", mains(), {load}, 180), [](auto& state) {
      state.legs[0].forward_shorted = state.legs[0].backward_shorted = true;
    }));
    cases.push_back(
        with(steady(words + ", forward 1 and 2 shorted, off", mains(), {load}, 180),
             [](auto& state) { state.legs[0].forward_shorted = state.legs[1].forward_shorted = true; }));
    cases.push_back(with(steady(words + ", fuse 1 open, at 45", mains(), {load}, 45),
                         [](auto& state) { state.legs[0].fuse_open = true; }));
  }
  check_all(cases, kLimit);
}

TEST_CASE(
    "without neutral, what leaks and a little inductance before it change nothing that ngspice would not") {
  auto star = load_of(Connection::star_3_wire, kEqual);
  auto delta = load_of(Connection::delta, kEqual, {20e-3, 20e-3, 20e-3});
  star.leakage_A = delta.leakage_A = 10e-3;
  check_all({steady("star, 10 mA leak, behind 6 mohm, 30 uH, at 0", mains(6e-3, 30e-6), {star}, 0, 4),
             steady("star, 10 mA leak, behind 6 mohm, 30 uH, at 40", mains(6e-3, 30e-6), {star}, 40, 4),
             steady("delta 16 ohm 20 mH, 10 mA leak, behind 6 mohm, 30 uH, at 0", mains(6e-3, 30e-6), {delta},
                    0, 4),
             steady("delta 16 ohm 20 mH, 10 mA leak, behind 6 mohm, 30 uH, at 40", mains(6e-3, 30e-6),
                    {delta}, 40, 4)},
            kLimit);
}
