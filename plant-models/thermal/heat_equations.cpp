#include "plant-models/thermal/heat_equations.hpp"

#include <algorithm>
#include <cassert>
#include <span>

#include "plant-models/thermal/radiation.hpp"

namespace emberline::plant {

HeatEquations::HeatEquations(const std::vector<ZoneParameters>& zones,
                             const std::vector<ElementParameters>& elements,
                             const std::vector<NeighbourParameters>& neighbours) {
  for (const auto& zone : zones) {
    zones_.push_back({zone.loss_W_per_K, zone.ambient_degC, std::nullopt});
    add(zone.mass_kg * zone.specific_heat_J_per_kgK, zone.start_degC);
  }
  for (const auto& element : elements) {
    const std::size_t zone = element.zone.value();
    assert(zone < zones.size());
    if (element.heat_capacity_J_per_K <= 0.0) {
      places_.push_back(zone);
      continue;
    }
    const std::size_t place = add(element.heat_capacity_J_per_K, zones[zone].start_degC);
    places_.push_back(place);
    bridges_.push_back({place, zone, element.coupling_W_per_K,
                        element.emissivity * kStefanBoltzmann_W_per_m2K4 * element.radiating_area_m2});
  }
  for (const auto& neighbour : neighbours) {
    assert(neighbour.a < zones.size() && neighbour.b < zones.size());
    bridges_.push_back({neighbour.a, neighbour.b, neighbour.conductance_W_per_K,
                        neighbour.emissivity * kStefanBoltzmann_W_per_m2K4 * neighbour.opening_m2});
  }
  lumped_ = start_.size();
  for (std::size_t zone = 0; zone < zones.size(); ++zone)
    if (zones[zone].wall) add_wall(zone, zones[zone]);
  start_.push_back(0.0);
}

std::size_t HeatEquations::add(double heat_capacity_J_per_K, double start_degC) {
  heat_capacity_J_per_K_.push_back(heat_capacity_J_per_K);
  per_heat_capacity_K_per_J_.push_back(1.0 / heat_capacity_J_per_K);
  start_.push_back(start_degC);
  return start_.size() - 1;
}

void HeatEquations::add_wall(std::size_t zone, const ZoneParameters& parameters) {
  const Wall& wall = zones_[zone].wall.emplace(*parameters.wall);
  chains_.push_back({zone, start_.size(), wall.cells(), wall_W_per_K_.size(), parameters.ambient_degC});
  const auto steady_degC = wall.steady_degC(parameters.start_degC, parameters.ambient_degC);
  for (std::size_t i = 0; i < wall.cells(); ++i) add(wall.heat_capacity_J_per_K()[i], steady_degC[i]);
  wall_W_per_K_.insert(wall_W_per_K_.end(), wall.conductance_W_per_K().begin(),
                       wall.conductance_W_per_K().end());
}

void HeatEquations::slopes(const State& state, const State& power_W, State& out) const {
  std::copy_n(power_W.begin(), lumped_, out.begin());
  for (const auto& bridge : bridges_) {
    const double from_degC = state[bridge.from];
    const double to_degC = state[bridge.to];
    double flow_W = bridge.conductance_W_per_K * (from_degC - to_degC);
    if (bridge.radiance_W_per_K4 > 0.0)
      flow_W += bridge.radiance_W_per_K4 * fourth_powers_apart(from_degC, to_degC);
    out[bridge.from] -= flow_W;
    out[bridge.to] += flow_W;
  }
  double lost_W = 0.0;
  for (std::size_t zone = 0; zone < zones_.size(); ++zone) {
    const double loss_W = zones_[zone].loss_W_per_K * (state[zone] - zones_[zone].ambient_degC);
    out[zone] -= loss_W;
    lost_W += loss_W;
  }
  for (const auto& chain : chains_) {
    const double* conductance_W_per_K = wall_W_per_K_.data() + chain.first_conductance;
    const double* cell_degC = state.data() + chain.first_cell;
    const double* per_heat_capacity_K_per_J = per_heat_capacity_K_per_J_.data() + chain.first_cell;
    double* cell_out = out.data() + chain.first_cell;
    double in_W = conductance_W_per_K[0] * (state[chain.zone] - cell_degC[0]);
    out[chain.zone] -= in_W;
    for (std::size_t i = 0; i < chain.cells; ++i) {
      const double next_degC = i + 1 < chain.cells ? cell_degC[i + 1] : chain.ambient_degC;
      const double on_W = conductance_W_per_K[i + 1] * (cell_degC[i] - next_degC);
      cell_out[i] = (in_W - on_W) * per_heat_capacity_K_per_J[i];
      in_W = on_W;
    }
    lost_W += in_W;
  }
  for (std::size_t i = 0; i < lumped_; ++i) out[i] *= per_heat_capacity_K_per_J_[i];
  out.back() = lost_W;
}

double HeatEquations::stored_J(const State& state) const {
  double sum_J = 0.0;
  for (std::size_t i = 0; i < heat_capacity_J_per_K_.size(); ++i)
    sum_J += heat_capacity_J_per_K_[i] * (state[i] - start_[i]);
  return sum_J;
}

const HeatEquations::Chain* HeatEquations::chain_of(std::size_t zone) const {
  const auto found =
      std::find_if(chains_.begin(), chains_.end(), [zone](const Chain& chain) { return chain.zone == zone; });
  return found == chains_.end() ? nullptr : &*found;
}

double HeatEquations::wall_degC(const State& state, std::size_t zone, double depth_m) const {
  const Chain* chain = chain_of(zone);
  assert(chain != nullptr);
  return zones_[zone].wall->temperature_degC(
      depth_m, state[zone], std::span(state).subspan(chain->first_cell, chain->cells), chain->ambient_degC);
}

std::size_t HeatEquations::wall_cells(std::size_t zone) const {
  const Chain* chain = chain_of(zone);
  return chain == nullptr ? 0 : chain->cells;
}

std::size_t HeatEquations::first_cell(std::size_t zone) const {
  const Chain* chain = chain_of(zone);
  assert(chain != nullptr);
  return chain->first_cell;
}

}  // namespace emberline::plant
