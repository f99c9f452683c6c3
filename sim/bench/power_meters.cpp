// What meters, protections and the control loop are shown of the power side.
#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/bench/power_side.hpp"

namespace emberline::bench {
namespace {

/// Below this share of the nominal voltage a supply counts as away.
constexpr double kAlive = 0.05;
/// There is nothing to measure.
constexpr double kWithoutHeatSink_degC = std::numeric_limits<double>::quiet_NaN();

double square(double x) { return x * x; }

}  // namespace

double PowerSide::supply_of(std::size_t unit, std::size_t own) const {
  const auto line = line_of(unit, own);
  if (!units_[unit].single_phase) return result_.supply_voltage_V[line];
  const auto across = spec_.units[unit].load.across;
  if (own > 0) return 0.0;
  if (across == plant::Across::l1_n || across == plant::Across::l2_n || across == plant::Across::l3_n)
    return result_.supply_voltage_V[line];
  // Between two lines: at each of them, that to the next.
  return result_.supply_line_V[line];
}

double PowerSide::line_power_of(std::size_t unit, std::size_t own) const {
  const auto& power = result_.loads[unit].line_power_W;
  if (!units_[unit].single_phase) return power[own];
  // Between two lines each carries its part.
  return own == 0 ? power[0] + power[1] + power[2] : 0.0;
}

bool PowerSide::alive(std::size_t unit) const {
  const double least_V = kAlive * spec_.supply.voltage_V;
  if (units_[unit].single_phase) return supply_of(unit, 0) > least_V;
  // What is left of one line alone drives nothing between lines, whatever floating ones read to neutral.
  const auto& between = result_.supply_line_V;
  return std::any_of(between.begin(), between.end(), [&](double volts) { return volts > least_V; });
}

void PowerSide::feed_meters() {
  total_stretch_ = {};
  for (std::size_t u = 0; u < units_.size(); ++u) {
    const auto& load = result_.loads[u];
    auto& stretch = stretch_[u];
    double power_W = 0.0;
    double heat_W = 0.0;
    double loss_W = 0.0;
    for (std::size_t leg = 0; leg < 3; ++leg) {
      const auto line = line_of(u, leg);
      stretch[kVoltage + leg] = square(load.legs[leg].voltage_V);
      stretch[kCurrent + leg] = square(load.legs[leg].current_A);
      stretch[kPower + leg] = load.legs[leg].power_W;
      stretch[kLine + leg] = units_[u].single_phase && leg > 0 ? 0.0 : square(load.line_current_A[line]);
      stretch[kSupply + leg] = units_[u].connected ? square(supply_of(u, leg)) : 0.0;
      stretch[kMeanLine + leg] = load.pairs[leg].dc_A;
      stretch[kLinePower + leg] = line_power_of(u, leg);
      power_W += load.legs[leg].power_W;
      heat_W += load.element_W[leg];
      loss_W += load.pairs[leg].mean_A * spec_.units[u].load.thyristor_drop_V;
      total_stretch_[kTotalPower] += load.line_power_W[leg];
    }
    stretch[kNeutral] = square(load.neutral_current_A);
    element_power_W_[u] = heat_W;
    units_[u].power_W = power_W;
    units_[u].loss_W = loss_W;
  }
  for (std::size_t phase = 0; phase < 3; ++phase) {
    total_stretch_[kTotalVoltage + phase] = square(result_.supply_voltage_V[phase]);
    total_stretch_[kTotalCurrent + phase] = square(result_.supply_current_A[phase]);
  }
  total_stretch_[kTotalNeutral] = square(result_.supply_neutral_A);
}

void PowerSide::look_at_cycle(std::size_t unit) {
  auto& side = units_[unit];
  auto& seen = side.seen;
  const auto& load = result_.loads[unit];
  seen.power_W = 0.0;
  for (std::size_t own = 0; own < 3; ++own) {
    const bool has = own == 0 || !side.single_phase;
    seen.used[own] = has;
    seen.load_V[own] = load.legs[own].voltage_V;
    seen.load_A[own] = load.legs[own].current_A;
    seen.line_A[own] = has ? load.line_current_A[line_of(unit, own)] : 0.0;
    seen.peak_A[own] = load.pairs[own].peak_A;
    seen.supply_V[own] = supply_of(unit, own);
    seen.between_V[own] = side.single_phase ? 0.0 : result_.supply_line_V[own];
    seen.fuse_open[own] = side.stage.leg(own).fuse_open;
    seen.fuse_heat[own] = side.fuses ? (*side.fuses)[own].heat() : 0.0;
    seen.power_W += load.legs[own].power_W;
  }
  const double system_V = spec_.supply.voltage_V;
  const bool line_neutral = spec_.supply.system == plant::System::three_phase && !side.single_phase;
  seen.nominal_supply_V = line_neutral ? system_V / std::sqrt(3.0) : network_.leg_supply_V(unit);
  seen.nominal_between_V = line_neutral ? system_V : 0.0;
  seen.nominal_frequency_Hz = spec_.supply.frequency_Hz;
  seen.frequency_Hz = alive(unit) ? supply_.frequency_Hz : 0.0;
  seen.output = side.stage.drive().output;
  seen.fired = told_[unit].firing_angle_deg < 180.0;
  seen.fired_fully = told_[unit].firing_angle_deg <= 0.0 && !told_[unit].first_half_deg;
  seen.soft_starting = side.stage.soft_starting() || !network_.settled();
  seen.sensor_fault = side.sensor_fault;
}

unit::Measured PowerSide::window_of(std::size_t unit) const {
  const auto mean = units_[unit].meter.mean();
  unit::Measured shown;
  for (std::size_t leg = 0; leg < 3; ++leg) {
    shown.load_voltage_V[leg] = std::sqrt(mean[kVoltage + leg]);
    shown.load_current_A[leg] = std::sqrt(mean[kCurrent + leg]);
    shown.load_power_W[leg] = mean[kPower + leg];
    shown.line_current_A[leg] = std::sqrt(mean[kLine + leg]);
    shown.supply_voltage_V[leg] = std::sqrt(mean[kSupply + leg]);
    shown.apparent_power_VA[leg] = shown.supply_voltage_V[leg] * shown.line_current_A[leg];
    shown.dc_current_A[leg] = mean[kMeanLine + leg];
    shown.line_power_W[leg] = mean[kLinePower + leg];
  }
  shown.neutral_current_A = std::sqrt(mean[kNeutral]);
  return shown;
}

unit::Measured PowerSide::measured(std::size_t unit) const {
  const auto& side = units_[unit];
  if (!side.meter.uniform()) {
    side.steady.reset();
  } else if (!side.steady) {
    side.steady = window_of(unit);
  }
  unit::Measured shown = side.steady ? *side.steady : window_of(unit);
  shown.supply_present = side.connected && alive(unit);
  shown.supply_frequency_Hz = shown.supply_present ? supply_.frequency_Hz : 0.0;
  shown.element_temperature_degC = heat_.element_degC(unit);
  shown.firing_angle_deg = told_[unit].firing_angle_deg;
  shown.heatsink_degC = side.heat_sink ? side.heat_sink->temperature_degC() : kWithoutHeatSink_degC;
  shown.demand_W = side.demand.demand_W();
  shown.peak_demand_W = side.demand.peak_W();
  shown.energy_J = side.energy_J;
  shown.phases = side.single_phase ? 1 : 3;
  shown.cycle = side.seen;
  return shown;
}

SupplyMeter PowerSide::supply_meter() const {
  const auto mean = total_meter_.mean();
  SupplyMeter shown;
  for (std::size_t phase = 0; phase < 3; ++phase) {
    shown.voltage_V[phase] = result_.supply_voltage_V[phase];
    shown.current_A[phase] = std::sqrt(mean[kTotalCurrent + phase]);
    shown.apparent_VA += std::sqrt(mean[kTotalVoltage + phase] * mean[kTotalCurrent + phase]);
  }
  shown.neutral_A = std::sqrt(mean[kTotalNeutral]);
  shown.power_W = mean[kTotalPower];
  shown.demand_W = total_demand_.demand_W();
  shown.peak_demand_W = total_demand_.peak_W();
  return shown;
}

}  // namespace emberline::bench
