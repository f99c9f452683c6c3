#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <vector>

namespace emberline::plant {

/// One layer of a wall.
struct WallLayer {
  double thickness_m = 0.1;                ///< above 0
  double conductivity_W_per_mK = 1.0;      ///< above 0
  double density_kg_per_m3 = 1000.0;       ///< above 0
  double specific_heat_J_per_kgK = 900.0;  ///< above 0
};

/// A plane wall of layers between a zone and its ambient, with heat transfer coefficients at both faces. At
/// the start it is in the steady state between the zone's start and its ambient.
struct WallParameters {
  double area_m2 = 1.0;                  ///< above 0
  double inside_film_W_per_m2K = 10.0;   ///< above 0
  double outside_film_W_per_m2K = 10.0;  ///< above 0
  std::vector<WallLayer> layers;         ///< from the inside out, one or more
};

/// A wall cut into finite volumes: a chain of heat capacities, conductances between them, the films at both
/// ends. The chain's resistance is that of the wall, so that every steady state is exact. Heat in transit is
/// within 0.1 % of the rise of the continuous wall; how the cells are placed for that is told at cut_layer().
/// One-dimensional conduction, rho c dT/dt = d/dx (k dT/dx): Incropera, Fundamentals of Heat and Mass
/// Transfer, ch. 2 and 5.10 (finite volumes). Corners and edges are not modelled.
class Wall {
 public:
  /// Everything wrong with the parameters, in words for the writer of a bench file; empty if possible.
  static std::vector<std::string> problems(const WallParameters& parameters);
  /// Requires problems(parameters).empty().
  explicit Wall(const WallParameters& parameters);

  [[nodiscard]] std::size_t cells() const { return heat_capacity_J_per_K_.size(); }
  [[nodiscard]] std::span<const double> heat_capacity_J_per_K() const { return heat_capacity_J_per_K_; }
  /// cells() + 1 of them: zone to the first cell, from cell to cell, last cell to ambient.
  [[nodiscard]] std::span<const double> conductance_W_per_K() const { return conductance_W_per_K_; }
  /// Temperature of each cell in the steady state between the two.
  [[nodiscard]] std::vector<double> steady_degC(double zone_degC, double ambient_degC) const;
  /// Temperature at `depth_m` from the inside face (0) to the outside one (the wall's thickness; what is
  /// beyond is taken as one of the two), with the cells at `cell_degC`.
  [[nodiscard]] double temperature_degC(double depth_m, double zone_degC, std::span<const double> cell_degC,
                                        double ambient_degC) const;

 private:
  /// Places in a wall are told by the thermal resistance between them and the zone.
  struct Face {
    double depth_m;
    double resistance_K_per_W;
  };
  void cut(const WallParameters& parameters);
  void cut_layer(double thickness_xi, double layer_J_per_K, double layer_K_per_W, double from_xi,
                 double largest_xi);
  void join_quick_cells();

  std::vector<double> heat_capacity_J_per_K_;
  std::vector<double> conductance_W_per_K_;
  std::vector<double> node_K_per_W_;    ///< where a cell's temperature is
  std::vector<double> border_K_per_W_;  ///< cells() + 1: where cells begin and end
  std::vector<Face> faces_;             ///< the inside face, those between layers, the outside face
  double whole_K_per_W_ = 0.0;          ///< from the zone to ambient
};

}  // namespace emberline::plant
