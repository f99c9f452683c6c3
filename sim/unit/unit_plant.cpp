#include <cmath>

#include "sim/base/duration_text.hpp"
#include "sim/unit/measured_points.hpp"
#include "sim/unit/state.hpp"
#include "sim/unit/unit_core.hpp"
#include "sim/unit/words.hpp"

namespace emberline::unit {

using registers::bit;
using registers::Point;
using registers::Trip;
using registers::Warning;

void VirtualUnit::Impl::advance(SimTime now, const FullConduction& full) {
  run_before(now);
  count_run_time(now);
  const std::uint32_t before = path_.limits_acting();
  path_.advance(now, full);
  note_limits(now, before);
}

void VirtualUnit::Impl::measure(SimTime now, const Measured& measured) {
  run_before(now);
  const bool was_present = measured_.supply_present;
  measured_ = measured;
  if (was_present != measured.supply_present) {
    note(now, measured.supply_present ? "warning supply-absent gone: the load's supply is back"
                                      : "warning supply-absent: no supply at the load's side");
  }
  path_.saw(measured_.cycle, measured_.phases);
  if (answers(state_)) supervise(now);
}

bool VirtualUnit::Impl::unsettled() const {
  return path_.unsettled() || protections_.watching() || partial_load_.learning();
}

LimitsSpec VirtualUnit::Impl::limits() const {
  const auto set = [](double value) { return value > 0.0 ? std::optional{value} : std::nullopt; };
  return {set(settings_.current_limit_A), set(settings_.voltage_limit_V), set(settings_.power_limit_W)};
}

void VirtualUnit::Impl::learn_load(std::string_view who, SimTime at) {
  run_before(at);
  const std::string told = "told by " + std::string(who) + " to learn its load";
  if (!supervises_parts()) {
    note(at, told + "; partial-load-failure is off, so it does not");
    return;
  }
  partial_load_.learn();
  note(at, told + ": " + format_duration(PartialLoad::kSteady) + " of steady firing make the reference");
}

void VirtualUnit::Impl::count_run_time(SimTime now) {
  if (path_.drive().output > 0.0) run_time_ += now - run_time_at_;
  run_time_at_ = now;
}

void VirtualUnit::Impl::note_limits(SimTime now, std::uint32_t before) {
  const std::uint32_t begun = path_.limits_acting() & ~before;
  if (begun == 0) return;
  for (const Warning warning : {Warning::current_limit, Warning::voltage_limit, Warning::power_limit}) {
    if ((begun & bit(warning)) == 0 || !throttle_.lets_through(static_cast<int>(warning), now)) continue;
    note(now, "warning " + std::string(registers::to_word(warning)) +
                  ": the output is held below what the setpoint asks for");
  }
}

std::uint32_t VirtualUnit::Impl::warnings() const {
  if (!powered_) return 0;
  std::uint32_t bits = path_.limits_acting() | warned_;
  if (watchdog_.lost()) bits |= bit(Warning::comms_loss);
  if (!measured_.supply_present) bits |= bit(Warning::supply_absent);
  if (intake_.overloaded()) bits |= bit(Warning::request_overload);
  return bits;
}

std::uint32_t VirtualUnit::Impl::trips() const {
  return trips_.bits() | (watchdog_.latched() ? bit(Trip::comms_loss) : 0u);
}

double VirtualUnit::Impl::value(Point point, SimTime now) const {
  const auto output = [this] { return path_.drive().output; };
  switch (point) {
    case Point::setpoint:
      return settings_.setpoint;
    case Point::setpoint_local:
      return local_setpoint_;
    case Point::setpoint_active:
      // What the output is heading for; when it is off, what it would be told if it were on.
      if (state_ == registers::State::holding && held_command_) return *held_command_;
      if (state_ == registers::State::preset) return spec_.comms_loss.preset;
      return selected_setpoint();
    case Point::setpoint_source:
      return settings_.local ? 1.0 : 0.0;
    case Point::output:
      return output();
    case Point::duty:
      // The share of mains cycles that conduct: with phase angle every cycle does, in part.
      return in_bursts(spec_.firing.mode) ? output() : (output() > 0.0 ? 1.0 : 0.0);
    case Point::run_time:
      return to_seconds(run_time_ + (output() > 0.0 ? now - run_time_at_ : Duration{}));
    case Point::state:
      return static_cast<double>(state_);
    case Point::warnings:
      return warnings();
    case Point::trips:
      return trips();
    case Point::comms_age:
      return answers(state_) ? to_seconds(watchdog_.age(now)) : 0.0;
    case Point::comms_timeout:
      return to_seconds(settings_.comms_timeout);
    case Point::comms_policy:
      return static_cast<double>(settings_.comms_policy);
    case Point::comms_gap_longest:
      return to_seconds(watchdog_.longest_gap(now));
    case Point::heartbeat:
      return settings_.heartbeat;
    case Point::reset:
      return reset_inputs_.register_level() ? 1.0 : 0.0;
    case Point::learn_load:
      return settings_.learn_load ? 1.0 : 0.0;
    case Point::load_intact:
      return partial_load_.intact();
    default:
      if (const auto measured = measured_point(point, measured_)) return *measured;
      return plant_setting(settings_, point).value_or(0.0);
  }
}

}  // namespace emberline::unit
