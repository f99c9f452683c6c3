#include "sim/bench/power_side.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <string_view>
#include <unordered_map>

#include "plant-models/electrical/phase_control.hpp"
#include "plant-models/electrical/plain.hpp"

namespace emberline::bench {
namespace {

using plant::Connection;

/// The network is told of a warmer element when its resistance has moved by this share: measured values are
/// off by no more, and need not be solved for at every instant.
constexpr double kResistanceMoved = 2e-5;
/// A control loop that follows an element as it warms up moves its output by less, and is steady all the
/// same.
constexpr double kOutputMoved = 1e-4;
/// Each leg of each unit misses its pulses by a chance of its own.
constexpr std::uint64_t kSeedStep = 0x9E3779B97F4A7C15u;
constexpr Duration kSupplyAveraging = std::chrono::milliseconds{200};

std::vector<plant::LoadParameters> loads_of(const BenchSpec& spec) {
  std::vector<plant::LoadParameters> loads;
  for (const auto& entry : spec.units) loads.push_back(entry.load);
  return loads;
}

plant::ThermalPlant heat_of(const BenchSpec& spec) {
  std::vector<plant::ZoneParameters> zones;
  std::unordered_map<std::string_view, std::size_t> by_name;
  for (const auto& zone : spec.zones) {
    by_name.emplace(zone.name, zones.size());
    zones.push_back(zone.parameters);
  }
  std::vector<plant::ElementParameters> elements;
  for (const auto& entry : spec.units) {
    elements.push_back(entry.element);
    if (const auto zone = entry.heats ? by_name.find(*entry.heats) : by_name.end(); zone != by_name.end())
      elements.back().zone = zone->second;
  }
  return {zones, elements, spec.neighbours};
}

}  // namespace

Duration whole_cycles(Duration averaging, double frequency_Hz) {
  const double cycles = std::max(1.0, std::round(to_seconds(averaging) * frequency_Hz));
  return from_seconds(cycles / frequency_Hz);
}

PowerSide::PowerSide(const BenchSpec& spec, double plant_speed, std::uint64_t seed,
                     const std::optional<BenchState>& starts_from)
    : spec_(spec),
      plant_speed_(plant_speed),
      network_(spec.supply, loads_of(spec)),
      heat_(heat_of(spec)),
      told_(spec.units.size()),
      stretch_(spec.units.size()),
      total_meter_(whole_cycles(kSupplyAveraging, spec.supply.frequency_Hz)),
      total_demand_(spec.demand_interval),
      element_power_W_(spec.units.size(), 0.0),
      full_(spec.units.size()) {
  supply_.frequency_Hz = spec.supply.frequency_Hz;
  for (std::size_t u = 0; u < spec.units.size(); ++u) {
    const auto& entry = spec.units[u];
    units_.push_back({PowerStage(entry, spec.supply.frequency_Hz, seed + kSeedStep * (u + 1)),
                      Meter(whole_cycles(entry.unit.averaging, spec.supply.frequency_Hz)),
                      DemandMeter(spec.demand_interval),
                      entry.load.connection == Connection::single_phase,
                      0.0,
                      0.0,
                      0.0,
                      false,
                      true,
                      std::nullopt,
                      std::nullopt,
                      {},
                      std::nullopt});
    if (entry.heat_sink) units_.back().heat_sink.emplace(*entry.heat_sink);
    if (entry.fuse) {
      const plant::Fuse fuse(*entry.fuse);
      units_.back().fuses.emplace(std::array{fuse, fuse, fuse});
    }
    for (std::size_t leg = 0; leg < 3; ++leg) {
      plant::LegState as_built;
      as_built.ageing = entry.load.ageing[leg];
      units_.back().stage.set_leg(leg, as_built);
    }
  }
  if (starts_from) begin_at(*starts_from);
  for (std::size_t u = 0; u < spec.units.size(); ++u) told_[u].element_degC = heat_.element_degC(u);
  make_rings();
  settle();
  // The meters were on before the run began: their windows are full of the state the bench starts in.
  for (std::size_t u = 0; u < units_.size(); ++u) {
    units_[u].meter.append(whole_cycles(spec.units[u].unit.averaging, spec.supply.frequency_Hz), stretch_[u]);
    look_at_cycle(u);
  }
  total_meter_.append(whole_cycles(kSupplyAveraging, spec.supply.frequency_Hz), total_stretch_);
}

void PowerSide::begin_at(const BenchState& state) {
  assert(problems(state, spec_).empty());
  auto heat = heat_.state();  // of the elements without a zone
  for (const auto& zone : state.zones) heat.zones[*spec_.find_zone(zone.name)] = zone.heat;
  for (const auto& saved : state.units) {
    const auto unit = *spec_.find_unit(saved.name);
    units_[unit].energy_J = saved.energy_J;
    if (saved.element_degC) heat.elements_degC[unit] = *saved.element_degC;
    if (saved.heat_sink_degC) units_[unit].heat_sink->set_temperature(*saved.heat_sink_degC);
  }
  heat_.begin_at(heat);
}

void PowerSide::save(BenchState& state) const {
  const auto heat = heat_.state();
  for (std::size_t zone = 0; zone < spec_.zones.size(); ++zone)
    state.zones.push_back({spec_.zones[zone].name, heat.zones[zone]});
  for (std::size_t unit = 0; unit < units_.size(); ++unit) {
    auto& saved = state.units.emplace_back();
    saved.name = spec_.units[unit].unit.name;
    saved.energy_J = units_[unit].energy_J;
    if (has_warm_element(spec_.units[unit])) saved.element_degC = heat.elements_degC[unit];
    if (const auto& sink = units_[unit].heat_sink) saved.heat_sink_degC = sink->temperature_degC();
  }
}

void PowerSide::make_rings() {
  std::vector<bool> shared(spec_.units.size(), false);
  const auto add = [&](const std::vector<std::size_t>& members) {
    const auto base = to_seconds(spec_.units[members.front()].unit.firing.base) * spec_.supply.frequency_Hz;
    rings_.push_back({plant::BurstRing(std::max(1, static_cast<int>(std::lround(base))), members.size()),
                      members, std::vector<double>(members.size(), 0.0)});
  };
  for (const auto& sharing : spec_.load_sharing) {
    std::vector<std::size_t> members;
    for (const auto& name : sharing.units) {
      if (const auto unit = spec_.find_unit(name)) members.push_back(*unit);
    }
    for (const auto unit : members) shared[unit] = true;
    if (!members.empty()) add(members);
  }
  for (std::size_t u = 0; u < spec_.units.size(); ++u)
    if (!shared[u] && spec_.units[u].unit.firing.mode == unit::FiringMode::burst) add({u});
}

std::size_t PowerSide::line_of(std::size_t unit, std::size_t own) const {
  if (!units_[unit].single_phase || own > 0) return own;
  switch (spec_.units[unit].load.across) {
    case plant::Across::l2_n:
    case plant::Across::l2_l3:
      return 1;
    case plant::Across::l3_n:
    case plant::Across::l3_l1:
      return 2;
    default:
      return 0;
  }
}

void PowerSide::pass_unit(std::size_t unit, Duration length) {
  auto& side = units_[unit];
  if (side.meter.append(length, stretch_[unit])) side.steady.reset();
  side.energy_J += side.power_W * to_seconds(length);
  side.demand.pass(length, side.power_W);
  if (side.heat_sink) side.heat_sink->pass(to_seconds(length), side.loss_W);
  if (!side.fuses) return;
  for (std::size_t leg = 0; leg < 3; ++leg) {
    if (!(*side.fuses)[leg].pass(to_seconds(length), std::sqrt(stretch_[unit][kLine + leg]))) continue;
    auto state = side.stage.leg(leg);
    state.fuse_open = true;
    side.stage.set_leg(leg, state);
    melted_.push_back({unit, leg});
  }
}

void PowerSide::pass(SimTime now) {
  const Duration length = now - since_;
  if (length <= Duration{}) return;
  since_ = now;
  for (std::size_t u = 0; u < units_.size(); ++u) pass_unit(u, length);
  total_meter_.append(length, total_stretch_);
  total_demand_.pass(length, total_stretch_[kTotalPower]);
  heat_.advance(plant_speed_ == 1.0 ? length : from_seconds(to_seconds(length) * plant_speed_),
                element_power_W_);
}

bool PowerSide::set_drive(std::size_t unit, const unit::Drive& drive) {
  const auto before = units_[unit].stage.drive();
  units_[unit].stage.set_drive(drive);
  return before.held_angle_deg != drive.held_angle_deg ||
         std::abs(before.output - drive.output) > kOutputMoved;
}

void PowerSide::change_drive(std::size_t unit, const unit::Drive& drive) {
  units_[unit].stage.change_drive(drive);
}

void PowerSide::set_connected(std::size_t unit, bool connected) { units_[unit].connected = connected; }

void PowerSide::set_leg(std::size_t unit, std::size_t leg, const plant::LegState& state) {
  auto& side = units_[unit];
  if (side.fuses) {
    auto& fuse = (*side.fuses)[leg];
    if (state.fuse_open && !fuse.melted()) fuse.melt();
    if (!state.fuse_open && fuse.melted()) fuse.replace();
  }
  side.stage.set_leg(leg, state);
}

plant::HeatSink* PowerSide::heat_sink(std::size_t unit) {
  auto& sink = units_[unit].heat_sink;
  return sink ? &*sink : nullptr;
}
const plant::HeatSink* PowerSide::heat_sink(std::size_t unit) const {
  const auto& sink = units_[unit].heat_sink;
  return sink ? &*sink : nullptr;
}

std::vector<PowerSide::Melted> PowerSide::take_melted() { return std::exchange(melted_, {}); }

void PowerSide::end_cycle() {
  for (std::size_t u = 0; u < units_.size(); ++u) look_at_cycle(u);
  network_.next_cycle();
}

void PowerSide::begin_cycle() {
  std::vector<bool> on;
  if (!rings_.empty()) on.assign(units_.size(), false);
  for (auto& ring : rings_) {
    for (std::size_t m = 0; m < ring.units.size(); ++m)
      ring.duties[m] = units_[ring.units[m]].stage.drive().output;
    ring.burst.next_cycle(ring.duties);
    for (std::size_t m = 0; m < ring.units.size(); ++m) on[ring.units[m]] = ring.burst.on(m);
  }
  for (std::size_t u = 0; u < units_.size(); ++u) units_[u].stage.begin_cycle(!on.empty() && on[u]);
}

void PowerSide::tell(std::size_t unit) {
  const auto& load = spec_.units[unit].load;
  auto& told = told_[unit];
  plant::Conduction next = told;
  next.connected = units_[unit].connected;
  units_[unit].stage.tell(next);
  const double element_degC = heat_.element_degC(unit);
  if (element_degC != told.element_degC) {
    const double before = plant::resistance_ratio(*load.material, told.element_degC);
    const double now = plant::resistance_ratio(*load.material, element_degC);
    if (std::abs(now - before) > kResistanceMoved * before) next.element_degC = element_degC;
  }
  if (next == told) return;
  if (next.element_degC != told.element_degC || next.legs != told.legs) full_[unit].its_own = false;
  told = next;
  ++told_version_;
}

void PowerSide::settle() {
  for (std::size_t u = 0; u < units_.size(); ++u) tell(u);
  // Cycles that are told the same and have settled are all alike.
  if (solved_version_ == told_version_ && network_.settled()) return;
  network_.solve(supply_, told_, result_);
  solved_version_ = told_version_;
  feed_meters();
}

unit::FullConduction PowerSide::full_conduction(std::size_t unit) const {
  if (!units_[unit].connected || !alive(unit)) return {};
  auto& known = full_[unit];
  const bool holds = known.its_own && known.supply_version == supply_version_;
  if (known.version != told_version_ && !holds) {
    const auto load = network_.full_conduction(unit, supply_, told_);
    known.full = {};
    const auto legs = spec_.units[unit].load.legs();
    for (std::size_t leg = 0; leg < legs; ++leg) {
      known.full.voltage_V += load.legs[leg].voltage_V / static_cast<double>(legs);
      known.full.current_A += load.legs[leg].current_A / static_cast<double>(legs);
      known.full.power_W += load.legs[leg].power_W;
      known.full.highest_A = std::max(known.full.highest_A, load.legs[leg].current_A);
    }
    if (const auto angle = spec_.units[unit].unit.firing.held_angle_deg)
      known.full.held_share = plant::power_share_of_angle(*angle, spec_.units[unit].load.connection);
    known.version = told_version_;
    known.its_own =
        plant::full_conduction_is_its_own(spec_.supply, units_.size() > 1, supply_, spec_.units[unit].load);
    known.supply_version = supply_version_;
  }
  return known.full;
}

bool PowerSide::restless() const {
  const auto moves = [](const Ring& ring) { return !ring.burst.steady(ring.duties); };
  return !network_.settled() || std::any_of(rings_.begin(), rings_.end(), moves) ||
         std::any_of(units_.begin(), units_.end(),
                     [](const UnitSide& side) { return side.stage.restless(); });
}

}  // namespace emberline::bench
