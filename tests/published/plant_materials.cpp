#include <cmath>

#include <doctest/doctest.h>

#include "plant-models/materials/material.hpp"

using namespace emberline::plant;

namespace {

double ratio(const char* name, double temperature_degC) {
  const Material* material = find_material(name);
  REQUIRE(material != nullptr);
  return resistance_ratio(*material, temperature_degC);
}

}  // namespace

TEST_CASE("tungsten agrees with the resistivities of Forsythe and Worthing") {
  // Astrophys. J. 61, 146 (1925), R/R300 derived from the table, 0.1 %.
  constexpr struct {
    double kelvin, per_300_K;
  } rows[] = {{400, 1.427},   {800, 3.363},   {1000, 4.412},  {1500, 7.143},
              {2000, 10.030}, {2500, 13.081}, {3000, 16.290}, {3600, 20.354}};
  const double at_300_K = ratio("tungsten", 300.0 - 273.15);
  for (const auto& row : rows) {
    CAPTURE(row.kelvin);
    CHECK(ratio("tungsten", row.kelvin - 273.15) / at_300_K == doctest::Approx(row.per_300_K).epsilon(1e-3));
  }
  CHECK(ratio("tungsten", 20.0) == 1.0);
}

TEST_CASE("tungsten between 20 degC and the table's start is as other data have it") {
  // An open introductory textbook: 0.0045 per K at 20 degC, so 1.0308 at 26.85 degC. A modern handbook's
  // 5.28 and 5.44 uohm cm at 293 and 300 K (from memory, a band only) make 1.030.
  const double at_300_K = ratio("tungsten", 300.0 - 273.15);
  CHECK(at_300_K > 1.028);
  CHECK(at_300_K < 1.033);
}

TEST_CASE("a lamp-like load's inrush is the published multiple of its hot current") {
  // R(2700 K)/R(300 K) and R(3000 K)/R(300 K) from the same table: 14.2 to 16.3.
  const double at_300_K = ratio("tungsten", 300.0 - 273.15);
  CHECK(ratio("tungsten", 2700.0 - 273.15) / at_300_K == doctest::Approx(14.2).epsilon(0.01));
  CHECK(ratio("tungsten", 3000.0 - 273.15) / at_300_K == doctest::Approx(16.3).epsilon(0.01));
}

TEST_CASE("alloys agree with the national standard's table as quoted second-hand") {
  // GB/T 1234, figures seen quoted, the standard itself not read: medium confidence, +-0.01.
  constexpr struct {
    double temperature_degC, nickel_chromium, iron_chromium_aluminium;
  } rows[] = {{20, 1.000, 1.000},  {100, 1.006, 1.002}, {200, 1.012, 1.005},  {300, 1.018, 1.008},
              {400, 1.025, 1.013}, {500, 1.026, 1.021}, {600, 1.018, 1.030},  {700, 1.010, 1.038},
              {800, 1.008, 1.040}, {900, 1.010, 1.042}, {1000, 1.014, 1.044}, {1100, 1.021, 1.046},
              {1200, 1.025, 1.047}};
  for (const auto& row : rows) {
    CAPTURE(row.temperature_degC);
    CHECK(std::abs(ratio("nickel-chromium", row.temperature_degC) - row.nickel_chromium) <= 1e-9);
    CHECK(std::abs(ratio("iron-chromium-aluminium", row.temperature_degC) - row.iron_chromium_aluminium) <=
          1e-9);
  }
  // Bands from memory (GOST 12766 grades of the same composition): within 0.02 at 1000 degC for Ni-Cr and
  // within 0.04 for Fe-Cr-Al.
  CHECK(std::abs(ratio("nickel-chromium", 1000) - 1.025) <= 0.02);
  CHECK(std::abs(ratio("iron-chromium-aluminium", 1000) - 1.076) <= 0.04);
}

TEST_CASE("nickel-chromium rises, falls and rises again as measured in 1925") {
  // Forging - Stamping - Heat Treating, Feb. 1925, Table III, three heats with 17.5 to 19 % chromium: maximum
  // near 500 degC, minimum near 700 to 800 degC, a rise after that. A straight line fails here.
  int highest_at = 300;
  int lowest_at = 500;
  for (int at = 300; at <= 700; ++at)
    if (ratio("nickel-chromium", at) > ratio("nickel-chromium", highest_at)) highest_at = at;
  for (int at = 500; at <= 1000; ++at)
    if (ratio("nickel-chromium", at) < ratio("nickel-chromium", lowest_at)) lowest_at = at;
  CHECK(std::abs(highest_at - 500) <= 50);
  CHECK(lowest_at >= 690.0);
  CHECK(lowest_at <= 810.0);
  CHECK(ratio("nickel-chromium", 1000) > ratio("nickel-chromium", 800));
  // Mean of the three heats; single ratios to 0.02. At 900 and 1000 degC those heats, of another composition
  // than today's 80/20 alloy, lie 0.024 and 0.030 above the table in use: only the shape is held there.
  constexpr struct {
    double temperature_degC, ratio;
  } rows[] = {{300, 1.026}, {400, 1.034}, {500, 1.043}, {600, 1.034}};
  for (const auto& row : rows) {
    CAPTURE(row.temperature_degC);
    CHECK(std::abs(ratio("nickel-chromium", row.temperature_degC) - row.ratio) <= 0.02);
  }
}
