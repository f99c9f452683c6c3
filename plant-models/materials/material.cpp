#include "plant-models/materials/material.hpp"

#include <algorithm>
#include <array>
#include <cstddef>

namespace emberline::plant {
namespace {

using Row = Material::Row;

constexpr double kZeroCelsius_K = 273.15;

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

constexpr std::array<Row, 14> kIronChromiumAluminiumMolybdenum{{{20, 1.000},
                                                                {100, 0.992},
                                                                {200, 0.986},
                                                                {300, 0.981},
                                                                {400, 0.978},
                                                                {500, 0.976},
                                                                {600, 0.974},
                                                                {700, 0.972},
                                                                {800, 0.970},
                                                                {900, 0.969},
                                                                {1000, 0.968},
                                                                {1100, 0.968},
                                                                {1200, 0.967},
                                                                {1300, 0.967}}};

/// Tungsten's resistivity from 300 K in steps of 100 K.
constexpr std::array<double, 34> kTungsten_uohm_cm{
    5.65,  8.06,  10.56, 13.23, 16.09, 19.00, 21.94, 24.93, 27.94, 30.98, 34.08, 37.19,
    40.36, 43.55, 46.78, 50.05, 53.35, 56.67, 60.06, 63.48, 66.91, 70.39, 73.91, 77.49,
    81.04, 84.70, 88.33, 92.04, 95.76, 99.54, 103.3, 107.2, 111.1, 115.0};
constexpr double kTungstenFirst_K = 300.0;
constexpr double kTungstenStep_K = 100.0;

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

/// A straight line bent upwards a little: 0.30 uohm m at 20 degC, 3.6 at 1700 degC.
constexpr std::array<Row, 19> molybdenum_disilicide_rows() {
  std::array<Row, 19> rows{};
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const double above_K = i == 0 ? 0.0 : 100.0 * static_cast<double>(i) - 20.0;
    rows[i] = {20.0 + above_K, 1.0 + 5.80e-3 * above_K + 4.46e-7 * above_K * above_K};
  }
  return rows;
}
constexpr auto kMolybdenumDisilicide = molybdenum_disilicide_rows();

constexpr std::array<Row, 12> kSiliconCarbide{{{20, 1.00},
                                               {100, 0.84},
                                               {200, 0.68},
                                               {300, 0.56},
                                               {400, 0.48},
                                               {600, 0.39},
                                               {800, 0.36},
                                               {1000, 0.38},
                                               {1200, 0.42},
                                               {1400, 0.47},
                                               {1500, 0.50},
                                               {1600, 0.53}}};

/// Graphite's resistivity in ohm m, from 291.7 to 1873.6 K.
constexpr double graphite_ohm_m(double kelvin) {
  return ((-2.705e-15 * kelvin + 1.263e-11) * kelvin - 1.836e-8) * kelvin + 1.813e-5;
}

/// Every 20 K from 20 to 1600 degC: straight lines between them are within 0.01 % of the fit.
constexpr std::array<Row, 80> graphite_rows() {
  std::array<Row, 80> rows{};
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const double at_degC = 20.0 + 20.0 * static_cast<double>(i);
    rows[i] = {at_degC, graphite_ohm_m(at_degC + kZeroCelsius_K) / graphite_ohm_m(20.0 + kZeroCelsius_K)};
  }
  return rows;
}
constexpr auto kGraphite = graphite_rows();

constexpr std::array<Material, 8> kMaterials{{
    {"constant", "no table: the resistance does not change", {}},
    {"nickel-chromium",
     "Cr20Ni80 column of GB/T 1234, second-hand (as quoted, the standard itself not read), +-0.01; its shape "
     "agrees with Forging - Stamping - Heat Treating, Feb. 1925, Table III",
     kNickelChromium},
    {"iron-chromium-aluminium",
     "0Cr25Al5 column of GB/T 1234, second-hand (as quoted, the standard itself not read), +-0.01",
     kIronChromiumAluminium},
    {"iron-chromium-aluminium-molybdenum",
     "0Cr27Al7Mo2 column of GB/T 1234, second-hand (as quoted, the standard itself not read), +-0.01",
     kIronChromiumAluminiumMolybdenum},
    {"molybdenum-disilicide",
     "metallic and rising throughout: NACA RM E52A04 (1952), abstract; slightly steeper than a straight "
     "line: "
     "Nava et al., Phys. Rev. B 35, 7936, abstract; the figures of element grade, 0.30 uohm m at 20 degC and "
     "12 times that at 1700 degC, are from memory: the ratio is between 8 and 14",
     kMolybdenumDisilicide},
    {"silicon-carbide",
     "falling to a minimum near 800 degC, then rising: common practice, no source; the figures are an "
     "example "
     "of that shape",
     kSiliconCarbide},
    {"graphite",
     "Cincotti et al., AIChE J. 53, 703 (2007), fit of resistivity from 291.7 to 1873.6 K, as quoted in an "
     "open-source multiphysics code; 10 % from rod to rod",
     kGraphite},
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

double resistance_spread(const Material& material) {
  if (material.rows.empty()) return 1.0;
  const auto [least, most] =
      std::minmax_element(material.rows.begin(), material.rows.end(),
                          [](const Material::Row& a, const Material::Row& b) { return a.ratio < b.ratio; });
  return most->ratio / least->ratio;
}

const Material* find_material(std::string_view name) {
  const auto* found = std::find_if(kMaterials.begin(), kMaterials.end(),
                                   [name](const Material& material) { return material.name == name; });
  return found == kMaterials.end() ? nullptr : found;
}

std::span<const Material> all_materials() { return kMaterials; }

}  // namespace emberline::plant
