#include <cmath>
#include <numbers>

#include <doctest/doctest.h>

#include "plant-models/electrical/network.hpp"
#include "tests/support/plant_loads.hpp"

using namespace emberline::plant;

namespace {

LoadResult with_faulty_pair(const LegState& leg, double angle_deg) {
  Conduction state = fired_at(angle_deg);
  state.legs[0] = leg;
  return solved_alone(single_phase_supply(100.0), ideal_load(Connection::single_phase, 1.0), state);
}

}  // namespace

TEST_CASE("one thyristor alone, or beside a diode, gives the published share of the voltage") {
  // One thyristor: V/sqrt 2; beside a diode: sqrt((2 pi - a + sin 2a / 2) / 2 pi). Closed forms of Rashid,
  // Power Electronics, ch. 11 (half-wave controllers), six digits. Means: (sqrt 2/2 pi)(1 + cos a) of one
  // thyristor, (sqrt 2/2 pi)(1 - cos a) of opposite sign beside a diode.
  constexpr struct {
    double angle_deg, alone, beside_diode;
  } rows[] = {{0, 0.707107, 1.000000},   {15, 0.705778, 0.999061},  {30, 0.696838, 0.992765},
              {45, 0.674224, 0.977025},  {60, 0.634231, 0.949868},  {75, 0.575722, 0.911842},
              {90, 0.500000, 0.866025},  {105, 0.410542, 0.817646}, {120, 0.312651, 0.773143},
              {135, 0.213126, 0.738527}, {150, 0.120072, 0.717229}, {165, 0.043335, 0.708433},
              {180, 0.000000, 0.707107}};
  for (const auto& row : rows) {
    CAPTURE(row.angle_deg);
    const double cosine = std::cos(row.angle_deg * std::numbers::pi / 180.0);
    const double half_mean = 100.0 * std::numbers::sqrt2 / (2.0 * std::numbers::pi);

    LegState open;
    open.backward_open = true;
    const auto alone = with_faulty_pair(open, row.angle_deg);
    CHECK(std::abs(alone.legs[0].voltage_V / 100.0 - row.alone) <= 2e-6);
    CHECK(std::abs(alone.pairs[0].dc_A - half_mean * (1.0 + cosine)) <= 1e-4);

    LegState shorted;
    shorted.forward_shorted = true;
    const auto beside = with_faulty_pair(shorted, row.angle_deg);
    CHECK(std::abs(beside.legs[0].voltage_V / 100.0 - row.beside_diode) <= 2e-6);
    // The shorted one carries positive current, so the mean is positive.
    CHECK(std::abs(beside.pairs[0].dc_A - half_mean * (1.0 - cosine)) <= 1e-4);
  }
}

TEST_CASE("an open thyristor at full conduction halves the power, a shorted one leaves half when off") {
  LegState open;
  open.forward_open = true;
  CHECK(with_faulty_pair(open, 0.0).legs[0].power_W == doctest::Approx(5000.0).epsilon(1e-6));
  CHECK(with_faulty_pair(open, 0.0).pairs[0].dc_A == doctest::Approx(-45.0158).epsilon(1e-5));
  LegState shorted;
  shorted.backward_shorted = true;
  CHECK(with_faulty_pair(shorted, 180.0).legs[0].power_W == doctest::Approx(5000.0).epsilon(1e-6));
  LegState both;
  both.forward_shorted = both.backward_shorted = true;
  CHECK(with_faulty_pair(both, 180.0).legs[0].power_W == doctest::Approx(10000.0).epsilon(1e-6));
  CHECK(std::abs(with_faulty_pair(both, 180.0).pairs[0].dc_A) < 1e-6);
}

TEST_CASE("means and peak of a controlled resistance are the textbook's") {
  // Rashid, Power Electronics, ex. 11.1: 120 V, 10 ohm, 90 degrees: each thyristor's mean 2.701 A; and
  // ex. 11.8: 230 V, 5.29 ohm, full: mean 19.572 A, peak 61.49 A.
  const auto half =
      solved_alone(single_phase_supply(120.0), ideal_load(Connection::single_phase, 10.0), fired_at(90.0));
  CHECK(std::abs(0.5 * half.pairs[0].mean_A - 2.701) <= 5e-4);
  const auto full =
      solved_alone(single_phase_supply(230.0), ideal_load(Connection::single_phase, 5.29), fired_at(0.0));
  CHECK(std::abs(0.5 * full.pairs[0].mean_A - 19.572) <= 5e-4);
  CHECK(std::abs(full.pairs[0].peak_A - 61.49) <= 5e-3);
  // Full-wave: mean of |v| = (sqrt 2/pi)(1 + cos a) Vs.
  CHECK(half.pairs[0].mean_A == doctest::Approx(0.450158 * 12.0).epsilon(2e-6));
}
