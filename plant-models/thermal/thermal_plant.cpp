#include "plant-models/thermal/thermal_plant.hpp"

#include <algorithm>
#include <cassert>
#include <numeric>
#include <utility>

#include "plant-models/thermal/heat_group.hpp"

namespace emberline::plant {
namespace {

constexpr double kDetachedElement_degC = 20.0;

/// For each zone the first one of those it exchanges heat with, directly or through others.
std::vector<std::size_t> leaders(std::size_t zones, const std::vector<NeighbourParameters>& neighbours) {
  std::vector<std::size_t> leader(zones);
  std::iota(leader.begin(), leader.end(), 0U);
  for (const auto& neighbour : neighbours) {
    const auto [low, high] = std::minmax(leader[neighbour.a], leader[neighbour.b]);
    const std::size_t kept = low;
    const std::size_t given_up = high;
    for (auto& own : leader)
      if (own == given_up) own = kept;
  }
  return leader;
}

}  // namespace

/// Zones that no heat goes between know nothing of each other: each group has steps of its own, and what
/// happens in one costs nothing in the others.
class ThermalPlant::Impl {
 public:
  Impl(const std::vector<ZoneParameters>& zones, const std::vector<ElementParameters>& elements,
       const std::vector<NeighbourParameters>& neighbours);

  /// Where a zone or element is.
  struct Place {
    std::size_t group = 0;
    std::size_t index = 0;
  };
  [[nodiscard]] const HeatGroup& group_of(Place place) const { return groups_[place.group]; }
  [[nodiscard]] Place zone(std::size_t zone) const {
    assert(zone < zones_.size());
    return zones_[zone];
  }
  [[nodiscard]] std::optional<Place> element(std::size_t element) const {
    assert(element < elements_.size());
    return elements_[element];
  }
  [[nodiscard]] std::size_t zones() const { return zones_.size(); }
  [[nodiscard]] std::size_t elements() const { return elements_.size(); }
  std::vector<HeatGroup>& groups() { return groups_; }

 private:
  std::vector<Place> zones_;
  std::vector<std::optional<Place>> elements_;
  std::vector<HeatGroup> groups_;
};

ThermalPlant::Impl::Impl(const std::vector<ZoneParameters>& zones,
                         const std::vector<ElementParameters>& elements,
                         const std::vector<NeighbourParameters>& neighbours)
    : zones_(zones.size()), elements_(elements.size()) {
  struct Members {
    std::vector<ZoneParameters> zones;
    std::vector<ElementParameters> elements;
    std::vector<NeighbourParameters> neighbours;
    std::vector<std::size_t> sources;
  };
  std::vector<Members> members;
  for (const auto& neighbour : neighbours) {
    assert(problems(neighbour).empty());
    assert(neighbour.a < zones.size() && neighbour.b < zones.size());
  }
  const auto leader = leaders(zones.size(), neighbours);
  for (std::size_t zone = 0; zone < zones.size(); ++zone) {
    assert(problems(zones[zone]).empty());
    if (leader[zone] == zone) members.emplace_back();
    const std::size_t group = leader[zone] == zone ? members.size() - 1 : zones_[leader[zone]].group;
    zones_[zone] = {group, members[group].zones.size()};
    members[group].zones.push_back(zones[zone]);
  }
  for (std::size_t i = 0; i < elements.size(); ++i) {
    assert(problems(elements[i]).empty());
    if (!elements[i].zone) continue;
    assert(*elements[i].zone < zones.size());
    const Place zone = zones_[*elements[i].zone];
    auto& own = members[zone.group];
    elements_[i] = Place{zone.group, own.elements.size()};
    own.elements.push_back(elements[i]);
    own.elements.back().zone = zone.index;
    own.sources.push_back(i);
  }
  for (auto neighbour : neighbours) {
    const std::size_t group = zones_[neighbour.a].group;
    neighbour.a = zones_[neighbour.a].index;
    neighbour.b = zones_[neighbour.b].index;
    members[group].neighbours.push_back(neighbour);
  }
  groups_.reserve(members.size());
  for (auto& own : members)
    groups_.emplace_back(own.zones, own.elements, own.neighbours, std::move(own.sources));
}

ThermalPlant::ThermalPlant(const std::vector<ZoneParameters>& zones,
                           const std::vector<ElementParameters>& elements,
                           const std::vector<NeighbourParameters>& neighbours)
    : impl_(std::make_unique<Impl>(zones, elements, neighbours)) {}
ThermalPlant::~ThermalPlant() = default;
ThermalPlant::ThermalPlant(ThermalPlant&&) noexcept = default;

void ThermalPlant::advance(std::chrono::nanoseconds step, const std::vector<double>& element_power_W) {
  assert(step.count() >= 0);
  assert(element_power_W.size() == impl_->elements());
  for (auto& group : impl_->groups()) group.advance(step, element_power_W);
}

double ThermalPlant::zone_degC(std::size_t zone) const {
  const auto place = impl_->zone(zone);
  return impl_->group_of(place).zone_degC(place.index);
}

double ThermalPlant::measured_degC(std::size_t zone) const {
  const auto place = impl_->zone(zone);
  return impl_->group_of(place).measured_degC(place.index);
}

double ThermalPlant::element_degC(std::size_t element) const {
  const auto place = impl_->element(element);
  return place ? impl_->group_of(*place).element_degC(place->index) : kDetachedElement_degC;
}

double ThermalPlant::wall_degC(std::size_t zone, double depth_m) const {
  const auto place = impl_->zone(zone);
  return impl_->group_of(place).wall_degC(place.index, depth_m);
}

std::size_t ThermalPlant::wall_cells(std::size_t zone) const {
  const auto place = impl_->zone(zone);
  return impl_->group_of(place).wall_cells(place.index);
}

ThermalState ThermalPlant::state() const {
  ThermalState saved;
  std::vector<ThermalState> groups;
  for (const auto& group : impl_->groups()) groups.push_back(group.state());
  for (std::size_t zone = 0; zone < impl_->zones(); ++zone) {
    const auto place = impl_->zone(zone);
    saved.zones.push_back(groups[place.group].zones[place.index]);
  }
  for (std::size_t element = 0; element < impl_->elements(); ++element) {
    const auto place = impl_->element(element);
    saved.elements_degC.push_back(place ? groups[place->group].elements_degC[place->index]
                                        : kDetachedElement_degC);
  }
  return saved;
}

void ThermalPlant::begin_at(const ThermalState& state) {
  assert(state.zones.size() == impl_->zones() && state.elements_degC.size() == impl_->elements());
  // Members of a group stand in it in the order they have outside.
  std::vector<ThermalState> groups(impl_->groups().size());
  for (std::size_t zone = 0; zone < impl_->zones(); ++zone)
    groups[impl_->zone(zone).group].zones.push_back(state.zones[zone]);
  for (std::size_t element = 0; element < impl_->elements(); ++element)
    if (const auto place = impl_->element(element))
      groups[place->group].elements_degC.push_back(state.elements_degC[element]);
  for (std::size_t group = 0; group < groups.size(); ++group) impl_->groups()[group].begin_at(groups[group]);
}

double ThermalPlant::stored_J() const {
  double sum_J = 0.0;
  for (const auto& group : impl_->groups()) sum_J += group.stored_J();
  return sum_J;
}

double ThermalPlant::lost_J() const {
  double sum_J = 0.0;
  for (const auto& group : impl_->groups()) sum_J += group.lost_J();
  return sum_J;
}

double ThermalPlant::given_J() const {
  double sum_J = 0.0;
  for (const auto& group : impl_->groups()) sum_J += group.given_J();
  return sum_J;
}

}  // namespace emberline::plant
