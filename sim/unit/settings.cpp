#include "sim/unit/settings.hpp"

#include <cmath>

namespace emberline::unit {

using registers::Point;

namespace {

constexpr double kLongestTimeout_s = 1.0e6;
// A scaled count can end a hair beyond the end of its range; that is still the end.
constexpr double kRounding = 1.0e-9;

bool is_whole(double value, int lowest, int highest) {
  return value >= lowest && value <= highest && value == std::floor(value);
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
  bool fits = false;
  switch (point) {
    case Point::setpoint:
      fits = value >= -kRounding && value <= 1.0 + kRounding;
      break;
    case Point::setpoint_source:
    case Point::reset:
      fits = is_whole(value, 0, 1);
      break;
    case Point::comms_timeout:
      fits = value >= 0.0 && value <= kLongestTimeout_s;
      break;
    case Point::comms_policy:
      fits = is_whole(value, 0, 2);
      break;
    case Point::heartbeat:
      fits = std::isfinite(value);
      break;
    default:
      return Failure{modbus::Refusal::illegal_data_address};
  }
  if (!fits) return Failure{modbus::Refusal::illegal_data_value};
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
