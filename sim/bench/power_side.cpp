#include "sim/bench/power_side.hpp"

#include <algorithm>
#include <cmath>

#include "plant-models/electrical/phase_control.hpp"

namespace emberline::bench {
namespace {

constexpr double kOffAngle_deg = 180.0;

std::vector<plant::LoadParameters> loads_of(const BenchSpec& spec) {
  std::vector<plant::LoadParameters> loads;
  for (const auto& entry : spec.units) loads.push_back(entry.load);
  return loads;
}

plant::ThermalPlant heat_of(const BenchSpec& spec) {
  std::vector<plant::ZoneParameters> zones;
  for (const auto& zone : spec.zones) zones.push_back(zone.parameters);
  std::vector<plant::ElementParameters> elements;
  for (const auto& entry : spec.units) {
    plant::ElementParameters element;
    if (entry.heats) element.zone = spec.find_zone(*entry.heats);
    element.heat_capacity_J_per_K = entry.element_heat_capacity_J_per_K;
    element.coupling_W_per_K = entry.element_coupling_W_per_K;
    elements.push_back(element);
  }
  return {zones, elements};
}

int phases_of(const plant::LoadParameters& load) {
  return load.connection == plant::Connection::single_phase ? 1 : 3;
}

}  // namespace

Duration whole_cycles(Duration averaging, double frequency_Hz) {
  const double cycles = std::max(1.0, std::round(to_seconds(averaging) * frequency_Hz));
  return from_seconds(cycles / frequency_Hz);
}

PowerSide::PowerSide(const BenchSpec& spec, double plant_speed)
    : frequency_Hz_(spec.supply.frequency_Hz),
      plant_speed_(plant_speed),
      network_(spec.supply, loads_of(spec)),
      heat_(heat_of(spec)),
      conduction_(spec.units.size()),
      stretch_(spec.units.size()),
      element_power_W_(spec.units.size(), 0.0) {
  for (const auto& entry : spec.units) {
    stages_.push_back({entry.unit.firing.mode,
                       phases_of(entry.load),
                       {},
                       {},
                       false,
                       Meter(whole_cycles(entry.unit.averaging, frequency_Hz_)),
                       0.0});
  }
  settle();
  // The meters were on before the run began: their windows are full of the state the bench starts in.
  for (std::size_t u = 0; u < stages_.size(); ++u) {
    stages_[u].meter.append(whole_cycles(spec.units[u].unit.averaging, frequency_Hz_), stretch_[u]);
  }
}

void PowerSide::pass(SimTime now) {
  const Duration length = now - since_;
  if (length <= Duration{}) return;
  since_ = now;
  for (std::size_t u = 0; u < stages_.size(); ++u) {
    stages_[u].meter.append(length, stretch_[u]);
    stages_[u].energy_J += element_power_W_[u] * to_seconds(length);
  }
  heat_.advance(plant_speed_ == 1.0 ? length : from_seconds(to_seconds(length) * plant_speed_),
                element_power_W_);
}

void PowerSide::set_drive(std::size_t unit, const unit::Drive& drive) {
  auto& stage = stages_[unit];
  stage.drive = drive;
  if (drive.output <= 0.0) {
    stage.cycle_on = false;
    stage.burst.reset();
  }
}

void PowerSide::set_connected(std::size_t unit, bool connected) { conduction_[unit].connected = connected; }

void PowerSide::begin_cycle() {
  for (auto& stage : stages_) {
    if (stage.mode == unit::FiringMode::burst_spread)
      stage.cycle_on = stage.burst.next_cycle(stage.drive.output);
  }
}

void PowerSide::refresh_conduction(std::size_t unit) {
  const auto& stage = stages_[unit];
  auto& conduction = conduction_[unit];
  conduction.element_degC = heat_.element_degC(unit);
  if (stage.mode == unit::FiringMode::burst_spread) {
    conduction.firing_angle_deg = stage.cycle_on ? 0.0 : kOffAngle_deg;
  } else if (stage.drive.held_angle_deg) {
    conduction.firing_angle_deg = *stage.drive.held_angle_deg;
  } else {
    conduction.firing_angle_deg =
        stage.drive.output > 0.0 ? plant::angle_of_power_share(stage.drive.output) : kOffAngle_deg;
  }
}

void PowerSide::settle() {
  for (std::size_t u = 0; u < stages_.size(); ++u) refresh_conduction(u);
  network_.solve(conduction_, result_);
  for (std::size_t u = 0; u < stages_.size(); ++u) {
    const auto& load = result_.loads[u];
    auto& stretch = stretch_[u];
    double power_W = 0.0;
    for (std::size_t leg = 0; leg < 3; ++leg) {
      stretch[kVoltage + leg] = load.legs[leg].voltage_V * load.legs[leg].voltage_V;
      stretch[kCurrent + leg] = load.legs[leg].current_A * load.legs[leg].current_A;
      stretch[kPower + leg] = load.legs[leg].power_W;
      stretch[kLine + leg] = load.line_current_A[leg] * load.line_current_A[leg];
      const double supply_V = conduction_[u].connected ? result_.supply_voltage_V[leg] : 0.0;
      stretch[kSupply + leg] = supply_V * supply_V;
      power_W += load.legs[leg].power_W;
    }
    stretch[kNeutral] = load.neutral_current_A * load.neutral_current_A;
    element_power_W_[u] = power_W;
  }
}

unit::FullConduction PowerSide::full_conduction(std::size_t unit) const {
  if (!conduction_[unit].connected) return {};
  const auto load = network_.full_conduction(unit, conduction_);
  const auto& leg = load.legs[0];
  return {leg.voltage_V, leg.current_A, leg.power_W * stages_[unit].phases};
}

unit::Measured PowerSide::measured(std::size_t unit) const {
  const auto& stage = stages_[unit];
  const auto mean = stage.meter.mean();
  unit::Measured shown;
  for (std::size_t leg = 0; leg < 3; ++leg) {
    shown.load_voltage_V[leg] = std::sqrt(mean[kVoltage + leg]);
    shown.load_current_A[leg] = std::sqrt(mean[kCurrent + leg]);
    shown.load_power_W[leg] = mean[kPower + leg];
    shown.line_current_A[leg] = std::sqrt(mean[kLine + leg]);
    shown.supply_voltage_V[leg] = std::sqrt(mean[kSupply + leg]);
  }
  shown.neutral_current_A = std::sqrt(mean[kNeutral]);
  shown.supply_present = conduction_[unit].connected;
  shown.supply_frequency_Hz = shown.supply_present ? frequency_Hz_ : 0.0;
  shown.element_temperature_degC = conduction_[unit].element_degC;
  shown.firing_angle_deg = conduction_[unit].firing_angle_deg;
  shown.energy_J = stage.energy_J;
  shown.phases = stage.phases;
  return shown;
}

bool PowerSide::bursting() const {
  return std::any_of(stages_.begin(), stages_.end(), [](const Stage& stage) {
    return stage.mode == unit::FiringMode::burst_spread && stage.drive.output > 0.0 &&
           stage.drive.output < 1.0;
  });
}

}  // namespace emberline::bench
