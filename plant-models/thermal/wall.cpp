#include "plant-models/thermal/wall.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace emberline::plant {
namespace {

// Depth is counted as xi = integral dx / sqrt(diffusivity), in sqrt(s): a change at the inside face is felt
// at xi after about xi^2 seconds. What is felt late is smooth, so cells grow with xi.
constexpr double kFirst_xi = 1.5;           ///< size of a cell at the inside face, where change is quickest
constexpr double kGrowth = 0.12;            ///< what a cell's size gains by its xi
constexpr double kPartOfWall = 1.0 / 16.0;  ///< the largest cell, of the wall's xi
/// A cell that follows its neighbours more quickly than this is made one with the nearer of them: thin sheets
/// of metal side by side would make the integration crawl, and nothing is to be seen in them.
constexpr double kQuickest_s = 0.5;

double thickness_xi(const WallLayer& layer) {
  return layer.thickness_m *
         std::sqrt(layer.density_kg_per_m3 * layer.specific_heat_J_per_kgK / layer.conductivity_W_per_mK);
}

/// Cells of the size min(first + growth xi, largest) that there are between the inside face and `xi`, as a
/// real number: the integral of 1/size.
struct Sizes {
  double largest_xi;

  [[nodiscard]] double grown_xi() const { return (largest_xi - kFirst_xi) / kGrowth; }
  [[nodiscard]] double growth_at(double xi) const { return xi < grown_xi() ? kGrowth : 0.0; }
  [[nodiscard]] double cells_to(double xi) const {
    const double growing_xi = std::min(xi, grown_xi());
    return std::log1p(kGrowth * growing_xi / kFirst_xi) / kGrowth + (xi - growing_xi) / largest_xi;
  }
  /// The inverse.
  [[nodiscard]] double xi_after(double cells) const {
    const double growing_cells = cells_to(grown_xi());
    if (cells > growing_cells) return grown_xi() + (cells - growing_cells) * largest_xi;
    return kFirst_xi * std::expm1(kGrowth * cells) / kGrowth;
  }
};

}  // namespace

Wall::Wall(const WallParameters& parameters) {
  assert(problems(parameters).empty());
  cut(parameters);
  join_quick_cells();
  double before_K_per_W = 0.0;
  for (const double node_K_per_W : node_K_per_W_) {
    conductance_W_per_K_.push_back(1.0 / (node_K_per_W - before_K_per_W));
    before_K_per_W = node_K_per_W;
  }
  conductance_W_per_K_.push_back(1.0 / (whole_K_per_W_ - before_K_per_W));
}

/// Every layer has whole cells, so that no cell holds two materials.
void Wall::cut(const WallParameters& parameters) {
  double whole_xi = 0.0;
  for (const auto& layer : parameters.layers) whole_xi += thickness_xi(layer);
  const double largest_xi = std::max(whole_xi * kPartOfWall, kFirst_xi);
  double depth_m = 0.0;
  double xi = 0.0;
  double resistance_K_per_W = 1.0 / (parameters.inside_film_W_per_m2K * parameters.area_m2);
  faces_.push_back({depth_m, resistance_K_per_W});
  border_K_per_W_.push_back(resistance_K_per_W);
  for (const auto& layer : parameters.layers) {
    const double layer_J_per_K =
        layer.thickness_m * parameters.area_m2 * layer.density_kg_per_m3 * layer.specific_heat_J_per_kgK;
    const double layer_K_per_W = layer.thickness_m / (layer.conductivity_W_per_mK * parameters.area_m2);
    cut_layer(thickness_xi(layer), layer_J_per_K, layer_K_per_W, xi, largest_xi);
    xi += thickness_xi(layer);
    depth_m += layer.thickness_m;
    resistance_K_per_W += layer_K_per_W;
    faces_.push_back({depth_m, resistance_K_per_W});
  }
  whole_K_per_W_ = resistance_K_per_W + 1.0 / (parameters.outside_film_W_per_m2K * parameters.area_m2);
}

/// A cell of size d answers a heat wave of the form exp(-m xi) with an impedance that is too high by (m
/// d)^2/8 when its node is in its middle. Moving the node makes up for that: by d/16 towards the face at a
/// layer's end, and by an eighth of the growth of d from cell to cell towards the smaller ones inside. (Both
/// follow from expanding the impedance of the chain in m; one can see them in the tests against the closed
/// forms.)
void Wall::cut_layer(double thickness_xi, double layer_J_per_K, double layer_K_per_W, double from_xi,
                     double largest_xi) {
  const Sizes sizes{largest_xi};
  const double first = sizes.cells_to(from_xi);
  const double wanted = sizes.cells_to(from_xi + thickness_xi) - first;
  const auto count = static_cast<int>(std::max(1.0, std::ceil(wanted)));
  const double face_K_per_W = border_K_per_W_.back();
  double from = 0.0;
  for (int i = 1; i <= count; ++i) {
    const double border_xi = sizes.xi_after(first + wanted * i / count);
    const double to = i == count ? 1.0 : (border_xi - from_xi) / thickness_xi;
    double node = 0.5 - 0.125 * sizes.growth_at(border_xi) * wanted / count;
    if (i == 1) node -= 0.0625;
    if (i == count) node += 0.0625;
    if (count == 1) node = 0.5;
    heat_capacity_J_per_K_.push_back((to - from) * layer_J_per_K);
    node_K_per_W_.push_back(face_K_per_W + (from + node * (to - from)) * layer_K_per_W);
    border_K_per_W_.push_back(face_K_per_W + to * layer_K_per_W);
    from = to;
  }
}

void Wall::join_quick_cells() {
  for (std::size_t i = 0; cells() > 1 && i < cells();) {
    const double left_K_per_W = node_K_per_W_[i] - (i > 0 ? node_K_per_W_[i - 1] : 0.0);
    const double right_K_per_W = (i + 1 < cells() ? node_K_per_W_[i + 1] : whole_K_per_W_) - node_K_per_W_[i];
    const double time_s = heat_capacity_J_per_K_[i] / (1.0 / left_K_per_W + 1.0 / right_K_per_W);
    if (time_s >= kQuickest_s) {
      ++i;
      continue;
    }
    const bool to_the_right = i == 0 || (i + 1 < cells() && right_K_per_W < left_K_per_W);
    const auto at = static_cast<std::ptrdiff_t>(i);
    heat_capacity_J_per_K_[to_the_right ? i + 1 : i - 1] += heat_capacity_J_per_K_[i];
    heat_capacity_J_per_K_.erase(heat_capacity_J_per_K_.begin() + at);
    node_K_per_W_.erase(node_K_per_W_.begin() + at);
    border_K_per_W_.erase(border_K_per_W_.begin() + (to_the_right ? at + 1 : at));
    i = 0;  // its neighbours are further apart now
  }
}

std::vector<double> Wall::steady_degC(double zone_degC, double ambient_degC) const {
  std::vector<double> steady;
  for (const double node_K_per_W : node_K_per_W_)
    steady.push_back(zone_degC + (ambient_degC - zone_degC) * node_K_per_W / whole_K_per_W_);
  return steady;
}

/// In a cell temperature is the parabola through its node with the right heat flow at both borders.
double Wall::temperature_degC(double depth_m, double zone_degC, std::span<const double> cell_degC,
                              double ambient_degC) const {
  assert(cell_degC.size() == cells());
  auto behind = std::find_if(faces_.begin() + 1, faces_.end() - 1,
                             [&](const Face& face) { return face.depth_m >= depth_m; });
  const Face& before = *(behind - 1);
  const double part = std::clamp((depth_m - before.depth_m) / (behind->depth_m - before.depth_m), 0.0, 1.0);
  const double place_K_per_W =
      before.resistance_K_per_W + part * (behind->resistance_K_per_W - before.resistance_K_per_W);
  std::size_t i = 0;
  while (i + 1 < cells() && border_K_per_W_[i + 1] < place_K_per_W) ++i;
  const double left_degC = i > 0 ? cell_degC[i - 1] : zone_degC;
  const double right_degC = i + 1 < cells() ? cell_degC[i + 1] : ambient_degC;
  const double in_W = conductance_W_per_K_[i] * (left_degC - cell_degC[i]);
  const double out_W = conductance_W_per_K_[i + 1] * (cell_degC[i] - right_degC);
  const double node_K_per_W = node_K_per_W_[i];
  const double bend = (in_W - out_W) / (border_K_per_W_[i + 1] - border_K_per_W_[i]);
  const double node_W = in_W + bend * (border_K_per_W_[i] - node_K_per_W);
  const double beyond_K_per_W = place_K_per_W - node_K_per_W;
  return cell_degC[i] - node_W * beyond_K_per_W + 0.5 * bend * beyond_K_per_W * beyond_K_per_W;
}

}  // namespace emberline::plant
