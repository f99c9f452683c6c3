#include "plant-models/thermal/wall.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace emberline::plant {
namespace {

/// Depth is counted as xi = integral dx / sqrt(diffusivity), in sqrt(s): a change at the inside face is felt
/// at xi after about xi^2 seconds. What is felt late is smooth, so cells may grow with xi.
constexpr double kFirst_sqrt_s = 1.5;  ///< size of a cell at the inside face, where change is quickest
constexpr double kGrowth = 0.12;       ///< size of a cell by its xi
constexpr double kPartOfWall = 1.0 / 16.0;
/// A cell that follows its neighbours more quickly than this is made one with the nearer of them: thin sheets
/// of metal side by side would make the integration crawl, and nothing is to be seen in them.
constexpr double kQuickest_s = 0.5;

double sqrt_diffusion_time(const WallLayer& layer) {
  return layer.thickness_m *
         std::sqrt(layer.density_kg_per_m3 * layer.specific_heat_J_per_kgK / layer.conductivity_W_per_mK);
}

/// How many cells of the wanted size there are between the inside face and `xi`, as a real number: the
/// integral of 1/size, size = min(first + growth xi, largest).
double cells_up_to(double xi, double largest) {
  const double grown = std::max(0.0, (largest - kFirst_sqrt_s) / kGrowth);
  const double growing = std::min(xi, grown);
  const double size_at_face = std::min(kFirst_sqrt_s, largest);
  return std::log1p(kGrowth * growing / size_at_face) / kGrowth +
         (xi - growing) / std::max(largest, size_at_face);
}

/// Its inverse.
double place_of(double cells, double largest) {
  const double grown = std::max(0.0, (largest - kFirst_sqrt_s) / kGrowth);
  const double size_at_face = std::min(kFirst_sqrt_s, largest);
  const double growing_cells = std::log1p(kGrowth * grown / size_at_face) / kGrowth;
  if (cells <= growing_cells) return size_at_face * std::expm1(kGrowth * cells) / kGrowth;
  return grown + (cells - growing_cells) * std::max(largest, size_at_face);
}

}  // namespace

Wall::Wall(const WallParameters& parameters) {
  assert(problems(parameters).empty());
  cut(parameters);
  join_quick_cells();
  conductance_W_per_K_.resize(cells() + 1);
  double before_K_per_W = 0.0;
  for (std::size_t i = 0; i < cells(); ++i) {
    conductance_W_per_K_[i] = 1.0 / (resistance_K_per_W_[i] - before_K_per_W);
    before_K_per_W = resistance_K_per_W_[i];
  }
  conductance_W_per_K_.back() = 1.0 / (whole_K_per_W_ - before_K_per_W);
}

/// Every layer has whole cells, so that no cell holds two materials; a layer thinner than one cell is one.
void Wall::cut(const WallParameters& parameters) {
  double whole_xi = 0.0;
  for (const auto& layer : parameters.layers) whole_xi += sqrt_diffusion_time(layer);
  const double largest = std::max(whole_xi * kPartOfWall, kFirst_sqrt_s);
  double depth_m = 0.0;
  double xi = 0.0;
  double resistance_K_per_W = 1.0 / (parameters.inside_film_W_per_m2K * parameters.area_m2);
  interfaces_.push_back({depth_m, resistance_K_per_W});
  for (const auto& layer : parameters.layers) {
    const double length_xi = sqrt_diffusion_time(layer);
    const double layer_J_per_K =
        layer.thickness_m * parameters.area_m2 * layer.density_kg_per_m3 * layer.specific_heat_J_per_kgK;
    const double layer_K_per_W = layer.thickness_m / (layer.conductivity_W_per_mK * parameters.area_m2);
    const double first = cells_up_to(xi, largest);
    const double wanted = cells_up_to(xi + length_xi, largest) - first;
    const double cells = std::max(1.0, std::ceil(wanted));
    double from = 0.0;
    for (double i = 1.0; i <= cells; i += 1.0) {
      const double to = i == cells ? 1.0 : (place_of(first + wanted * i / cells, largest) - xi) / length_xi;
      heat_capacity_J_per_K_.push_back((to - from) * layer_J_per_K);
      resistance_K_per_W_.push_back(resistance_K_per_W + 0.5 * (from + to) * layer_K_per_W);
      from = to;
    }
    xi += length_xi;
    depth_m += layer.thickness_m;
    resistance_K_per_W += layer_K_per_W;
    interfaces_.push_back({depth_m, resistance_K_per_W});
  }
  whole_K_per_W_ = resistance_K_per_W + 1.0 / (parameters.outside_film_W_per_m2K * parameters.area_m2);
}

void Wall::join_quick_cells() {
  for (std::size_t i = 0; cells() > 1 && i < cells();) {
    const double left_K_per_W = resistance_K_per_W_[i] - (i > 0 ? resistance_K_per_W_[i - 1] : 0.0);
    const double right_K_per_W =
        (i + 1 < cells() ? resistance_K_per_W_[i + 1] : whole_K_per_W_) - resistance_K_per_W_[i];
    const double time_s = heat_capacity_J_per_K_[i] / (1.0 / left_K_per_W + 1.0 / right_K_per_W);
    if (time_s >= kQuickest_s) {
      ++i;
      continue;
    }
    const bool to_the_right = i == 0 || (i + 1 < cells() && right_K_per_W < left_K_per_W);
    const std::size_t other = to_the_right ? i + 1 : i - 1;
    heat_capacity_J_per_K_[other] += heat_capacity_J_per_K_[i];
    heat_capacity_J_per_K_.erase(heat_capacity_J_per_K_.begin() + static_cast<std::ptrdiff_t>(i));
    resistance_K_per_W_.erase(resistance_K_per_W_.begin() + static_cast<std::ptrdiff_t>(i));
    i = 0;  // its neighbours are further apart now
  }
}

std::vector<double> Wall::steady_degC(double zone_degC, double ambient_degC) const {
  std::vector<double> steady;
  for (const double resistance_K_per_W : resistance_K_per_W_)
    steady.push_back(zone_degC + (ambient_degC - zone_degC) * resistance_K_per_W / whole_K_per_W_);
  return steady;
}

/// Between two cells the heat flow is one, so temperature is linear in resistance, through interfaces too.
double Wall::temperature_degC(double depth_m, double zone_degC, std::span<const double> cell_degC,
                              double ambient_degC) const {
  assert(cell_degC.size() == cells());
  const double depth = std::clamp(depth_m, 0.0, interfaces_.back().depth_m);
  auto behind = std::find_if(interfaces_.begin() + 1, interfaces_.end(),
                             [&](const Interface& face) { return face.depth_m >= depth; });
  if (behind == interfaces_.end()) --behind;
  const auto before = behind - 1;
  const double resistance_K_per_W =
      before->resistance_K_per_W + (depth - before->depth_m) / (behind->depth_m - before->depth_m) *
                                       (behind->resistance_K_per_W - before->resistance_K_per_W);
  const auto next = static_cast<std::size_t>(
      std::upper_bound(resistance_K_per_W_.begin(), resistance_K_per_W_.end(), resistance_K_per_W) -
      resistance_K_per_W_.begin());
  const double left_K_per_W = next > 0 ? resistance_K_per_W_[next - 1] : 0.0;
  const double right_K_per_W = next < cells() ? resistance_K_per_W_[next] : whole_K_per_W_;
  const double left_degC = next > 0 ? cell_degC[next - 1] : zone_degC;
  const double right_degC = next < cells() ? cell_degC[next] : ambient_degC;
  return left_degC +
         (right_degC - left_degC) * (resistance_K_per_W - left_K_per_W) / (right_K_per_W - left_K_per_W);
}

}  // namespace emberline::plant
