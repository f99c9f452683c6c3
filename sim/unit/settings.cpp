#include "sim/unit/settings.hpp"

#include <cmath>

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
  return settings;
}

Settings after_power_cycle(const Settings& settings, const UnitSpec& spec) {
  Settings next = initial_settings(spec);
  if (!spec.table) return next;
  if (spec.table->keeps(Point::setpoint)) next.setpoint = settings.setpoint;
  if (spec.table->keeps(Point::setpoint_source)) next.local = settings.local;
  if (spec.table->keeps(Point::comms_timeout)) next.comms_timeout = settings.comms_timeout;
  if (spec.table->keeps(Point::comms_policy)) next.comms_policy = settings.comms_policy;
  if (spec.table->keeps(Point::heartbeat)) next.heartbeat = settings.heartbeat;
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
  History& history = histories_[static_cast<std::size_t>(point)];
  if (history.told) return false;
  history.times.push_back(at);
  while (history.times.front() <= at - kWithin) history.times.pop_front();
  history.told = history.times.size() > kTooMany;
  return history.told;
}

}  // namespace emberline::unit
