#include "sim/unit/measured_points.hpp"

#include <algorithm>

namespace emberline::unit {

using registers::Point;

namespace {

double mean(const std::array<double, 3>& values, int phases) {
  return phases == 1 ? values[0] : (values[0] + values[1] + values[2]) / 3.0;
}

double total(const std::array<double, 3>& values, int phases) {
  return phases == 1 ? values[0] : values[0] + values[1] + values[2];
}

/// Below a microvoltampere there is nothing but rounding left to divide by.
double power_factor(double power_W, double apparent_VA) {
  return apparent_VA > 1.0e-6 ? power_W / apparent_VA : 0.0;
}

/// The phase of an _l1 _l2 _l3 point whose first is `l1`, or nothing.
std::optional<std::size_t> phase_of(Point point, Point l1) {
  const int offset = static_cast<int>(point) - static_cast<int>(l1);
  if (offset < 0 || offset > 2) return std::nullopt;
  return static_cast<std::size_t>(offset);
}

std::optional<double> per_phase(Point point, const Measured& measured) {
  if (const auto i = phase_of(point, Point::load_voltage_l1)) return measured.load_voltage_V[*i];
  if (const auto i = phase_of(point, Point::load_current_l1)) return measured.load_current_A[*i];
  if (const auto i = phase_of(point, Point::load_power_l1)) return measured.load_power_W[*i];
  if (const auto i = phase_of(point, Point::line_current_l1)) return measured.line_current_A[*i];
  if (const auto i = phase_of(point, Point::supply_voltage_l1)) return measured.supply_voltage_V[*i];
  if (const auto i = phase_of(point, Point::apparent_power_l1)) return measured.apparent_power_VA[*i];
  if (const auto i = phase_of(point, Point::power_factor_l1)) {
    return power_factor(measured.line_power_W[*i], measured.apparent_power_VA[*i]);
  }
  if (const auto i = phase_of(point, Point::dc_current_l1)) return measured.dc_current_A[*i];
  return std::nullopt;
}

}  // namespace

std::optional<double> measured_point(Point point, const Measured& measured) {
  const int phases = measured.phases;
  switch (point) {
    case Point::load_voltage:
      return mean(measured.load_voltage_V, phases);
    case Point::load_current:
      return mean(measured.load_current_A, phases);
    case Point::load_power:
      return total(measured.load_power_W, phases);
    case Point::line_current:
      return mean(measured.line_current_A, phases);
    case Point::supply_voltage:
      return mean(measured.supply_voltage_V, phases);
    case Point::load_resistance: {
      // Below a microampere there is nothing but rounding left to divide by.
      const double current_A = mean(measured.load_current_A, phases);
      return current_A > 1.0e-6 ? mean(measured.load_voltage_V, phases) / current_A : 0.0;
    }
    case Point::apparent_power:
      return total(measured.apparent_power_VA, phases);
    case Point::power_factor:
      return power_factor(total(measured.line_power_W, phases), total(measured.apparent_power_VA, phases));
    case Point::demand:
      return measured.demand_W;
    case Point::peak_demand:
      return measured.peak_demand_W;
    case Point::heatsink_temperature:
      return measured.heatsink_degC;
    case Point::neutral_current:
      return measured.neutral_current_A;
    case Point::supply_frequency:
      return measured.supply_frequency_Hz;
    case Point::element_temperature:
      return measured.element_temperature_degC;
    case Point::firing_angle:
      return measured.firing_angle_deg;
    case Point::energy:
      return measured.energy_J;
    default:
      return per_phase(point, measured);
  }
}

}  // namespace emberline::unit
