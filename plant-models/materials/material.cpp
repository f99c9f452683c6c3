#include "plant-models/materials/material.hpp"

#include <algorithm>
#include <array>
#include <cstddef>

namespace emberline::plant {
namespace {

using Row = Material::Row;

constexpr std::array<Row, 13> kNickelChromium{{{20, 1.000},
                                               {100, 1.006},
                                               {200, 1.012},
                                               {300, 1.018},
                                               {400, 1.025},
                                               {500, 1.026},
                                               {600, 1.018},
                                               {700, 1.010},
                                               {800, 1.008},
                                               {900, 1.010},
                                               {1000, 1.014},
                                               {1100, 1.021},
                                               {1200, 1.025}}};

constexpr std::array<Row, 13> kIronChromiumAluminium{{{20, 1.000},
                                                      {100, 1.002},
                                                      {200, 1.005},
                                                      {300, 1.008},
                                                      {400, 1.013},
                                                      {500, 1.021},
                                                      {600, 1.030},
                                                      {700, 1.038},
                                                      {800, 1.040},
                                                      {900, 1.042},
                                                      {1000, 1.044},
                                                      {1100, 1.046},
                                                      {1200, 1.047}}};

/// Tungsten's resistivity from 300 K in steps of 100 K.
constexpr std::array<double, 34> kTungsten_uohm_cm{
    5.65,  8.06,  10.56, 13.23, 16.09, 19.00, 21.94, 24.93, 27.94, 30.98, 34.08, 37.19,
    40.36, 43.55, 46.78, 50.05, 53.35, 56.67, 60.06, 63.48, 66.91, 70.39, 73.91, 77.49,
    81.04, 84.70, 88.33, 92.04, 95.76, 99.54, 103.3, 107.2, 111.1, 115.0};
constexpr double kTungstenFirst_K = 300.0;
constexpr double kTungstenStep_K = 100.0;
constexpr double kZeroCelsius_K = 273.15;

/// The table starts at 300 K, the reference is 20 degC: its first interval is carried on downwards by 6.85 K.
constexpr std::array<Row, kTungsten_uohm_cm.size() + 1> tungsten_rows() {
  const double slope = (kTungsten_uohm_cm[1] - kTungsten_uohm_cm[0]) / kTungstenStep_K;
  const double at_20_degC = kTungsten_uohm_cm[0] - slope * (kTungstenFirst_K - kZeroCelsius_K - 20.0);
  std::array<Row, kTungsten_uohm_cm.size() + 1> rows{};
  rows[0] = {20.0, 1.0};
  for (std::size_t i = 0; i < kTungsten_uohm_cm.size(); ++i) {
    const double kelvin = kTungstenFirst_K + kTungstenStep_K * static_cast<double>(i);
    rows[i + 1] = {kelvin - kZeroCelsius_K, kTungsten_uohm_cm[i] / at_20_degC};
  }
  return rows;
}
constexpr auto kTungsten = tungsten_rows();

constexpr std::array<Material, 4> kMaterials{{
    {"constant", "no table: the resistance does not change", {}},
    {"nickel-chromium",
     "Cr20Ni80 column of GB/T 1234, second-hand (as quoted, the standard itself not read), +-0.01; its shape "
     "agrees with Forging - Stamping - Heat Treating, Feb. 1925, Table III",
     kNickelChromium},
    {"iron-chromium-aluminium",
     "0Cr25Al5 column of GB/T 1234, second-hand (as quoted, the standard itself not read), +-0.01",
     kIronChromiumAluminium},
    {"tungsten",
     "Forsythe and Worthing, Astrophys. J. 61, 146 (1925), resistivity 300 to 3600 K, 1 to 2 %; the value at "
     "20 degC is extrapolated along the first interval",
     kTungsten},
}};

}  // namespace

double resistance_ratio(const Material& material, double temperature_degC) {
  const auto rows = material.rows;
  if (rows.empty()) return 1.0;
  const auto above =
      std::upper_bound(rows.begin(), rows.end(), temperature_degC,
                       [](double value, const Row& row) { return value < row.temperature_degC; });
  if (above == rows.begin()) return rows.front().ratio;
  if (above == rows.end()) return rows.back().ratio;
  const auto below = above - 1;
  const double part =
      (temperature_degC - below->temperature_degC) / (above->temperature_degC - below->temperature_degC);
  return below->ratio + part * (above->ratio - below->ratio);
}

const Material* find_material(std::string_view name) {
  const auto* found = std::find_if(kMaterials.begin(), kMaterials.end(),
                                   [name](const Material& material) { return material.name == name; });
  return found == kMaterials.end() ? nullptr : found;
}

std::span<const Material> all_materials() { return kMaterials; }

}  // namespace emberline::plant
