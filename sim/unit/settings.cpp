#include "sim/unit/settings.hpp"

#include <cmath>

#include "sim/unit/protection_info.hpp"

namespace emberline::unit {

using registers::Point;

namespace {

bool takes_whole_numbers_only(const registers::PointInfo& info) {
  return !info.values.empty() || info.dimension == Dimension::logical;
}

}  // namespace

Settings initial_settings(const UnitSpec& spec) {
  Settings settings;
  settings.comms_timeout = spec.comms_loss.timeout;
  settings.comms_policy = spec.comms_loss.policy;
  settings.current_limit_A = spec.limits.current_A.value_or(0.0);
  settings.voltage_limit_V = spec.limits.voltage_V.value_or(0.0);
  settings.power_limit_W = spec.limits.power_W.value_or(0.0);
  for (std::size_t p = 0; p < kProtectionCount; ++p) {
    settings.threshold[p] = spec.protections[p].threshold;
    settings.delay_s[p] = to_seconds(spec.protections[p].after);
  }
  settings.partial_load_hysteresis =
      spec.protections[static_cast<std::size_t>(Protection::partial_load_failure)].hysteresis;
  return settings;
}

double* plant_setting(Settings& settings, Point point) {
  switch (point) {
    case Point::current_limit:
      return &settings.current_limit_A;
    case Point::voltage_limit:
      return &settings.voltage_limit_V;
    case Point::power_limit:
      return &settings.power_limit_W;
    case Point::partial_load_failure_hysteresis:
      return &settings.partial_load_hysteresis;
    default:
      break;
  }
  for (const auto& info : all_protections()) {
    const auto index = static_cast<std::size_t>(info.protection);
    if (info.threshold == point) return &settings.threshold[index];
    if (info.delay == point) return &settings.delay_s[index];
  }
  return nullptr;
}

std::optional<double> plant_setting(const Settings& settings, Point point) {
  Settings copy = settings;
  const double* const value = plant_setting(copy, point);
  return value == nullptr ? std::nullopt : std::optional{*value};
}

Settings after_power_cycle(const Settings& settings, const UnitSpec& spec) {
  Settings next = initial_settings(spec);
  if (!spec.table) return next;
  if (spec.table->keeps(Point::setpoint)) next.setpoint = settings.setpoint;
  if (spec.table->keeps(Point::setpoint_source)) next.local = settings.local;
  if (spec.table->keeps(Point::comms_timeout)) next.comms_timeout = settings.comms_timeout;
  if (spec.table->keeps(Point::comms_policy)) next.comms_policy = settings.comms_policy;
  if (spec.table->keeps(Point::heartbeat)) next.heartbeat = settings.heartbeat;
  for (const auto& info : registers::all_points()) {
    const auto value = plant_setting(settings, info.point);
    if (value && spec.table->keeps(info.point)) *plant_setting(next, info.point) = *value;
  }
  return next;
}

Result<Done, modbus::Refusal> may_write(Point point, double value) {
  const auto& info = registers::point_info(point);
  if (!info.writable) return Failure{modbus::Refusal::illegal_data_address};
  const bool inside = !info.limits || (value >= info.limits->first && value <= info.limits->second);
  const bool sound = std::isfinite(value) && (!takes_whole_numbers_only(info) || value == std::floor(value));
  if (!inside || !sound) return Failure{modbus::Refusal::illegal_data_value};
  return Done{};
}

bool KeptWrites::written(Point point, SimTime at) {
  History& history = histories_[point];
  if (history.told) return false;
  history.times.push_back(at);
  while (history.times.front() <= at - kWithin) history.times.pop_front();
  history.told = history.times.size() > kTooMany;
  return history.told;
}

}  // namespace emberline::unit
