#pragma once

#include <cstddef>
#include <optional>
#include <utility>
#include <vector>

#include "plant-models/thermal/thermal_plant.hpp"

namespace emberline::plant {

/// The equations of zones that exchange heat, with their elements and walls, as one system of first order:
/// temperatures and, last in the state, what was lost to the surroundings. Inside plant-models only.
class HeatEquations {
 public:
  using State = std::vector<double>;

  /// Elements all have a zone; indices are those into `zones`.
  HeatEquations(const std::vector<ZoneParameters>& zones, const std::vector<ElementParameters>& elements,
                const std::vector<NeighbourParameters>& neighbours);

  /// The state in which the zones' start and their walls' steady state stand. Its last entry is 0 J.
  [[nodiscard]] const State& start() const { return start_; }
  /// Takes another state for the start; its last entry is 0 J.
  void begin_at(State start) { start_ = std::move(start); }
  [[nodiscard]] std::size_t zones() const { return zones_.size(); }
  /// Where in the state an element's temperature stands: its zone's place when it has no heat capacity.
  [[nodiscard]] std::size_t place(std::size_t element) const { return places_[element]; }
  [[nodiscard]] double heat_capacity_J_per_K(std::size_t place) const {
    return heat_capacity_J_per_K_[place];
  }

  /// Time derivative of `state` with `power_W` into each place.
  void slopes(const State& state, const State& power_W, State& out) const;
  /// Heat that all temperatures of `state` hold more than at the start.
  [[nodiscard]] double stored_J(const State& state) const;
  /// Temperature in the wall of `zone`, which has one.
  [[nodiscard]] double wall_degC(const State& state, std::size_t zone, double depth_m) const;
  /// 0 when the zone has no wall.
  [[nodiscard]] std::size_t wall_cells(std::size_t zone) const;
  /// Where in the state the first of them stands; the others follow. Of a zone that has a wall.
  [[nodiscard]] std::size_t first_cell(std::size_t zone) const;

 private:
  struct Zone {
    double loss_W_per_K;
    double ambient_degC;
    std::optional<Wall> wall;
  };
  /// What conducts and radiates between two places.
  struct Bridge {
    std::size_t from;
    std::size_t to;
    double conductance_W_per_K;
    double radiance_W_per_K4;
  };
  /// Cells of a wall stand one after the other in the state; its conductances in `wall_W_per_K_`.
  struct Chain {
    std::size_t zone;
    std::size_t first_cell;
    std::size_t cells;
    std::size_t first_conductance;
    double ambient_degC;
  };
  std::size_t add(double heat_capacity_J_per_K, double start_degC);
  void add_wall(std::size_t zone, const ZoneParameters& parameters);
  [[nodiscard]] const Chain* chain_of(std::size_t zone) const;

  std::vector<Zone> zones_;
  std::vector<std::size_t> places_;
  std::vector<Bridge> bridges_;
  std::vector<Chain> chains_;
  std::vector<double> wall_W_per_K_;
  std::vector<double> heat_capacity_J_per_K_;  ///< of each place
  std::vector<double> per_heat_capacity_K_per_J_;
  std::size_t lumped_ = 0;  ///< places of zones and elements; those of the walls come after them
  State start_;
};

}  // namespace emberline::plant
