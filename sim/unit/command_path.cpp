#include "sim/unit/command_path.hpp"

#include <algorithm>
#include <cmath>

namespace emberline::unit {

using registers::bit;
using registers::Warning;

namespace {

double square(double x) { return x * x; }

/// a / b for a share: nothing asked is 0, and asked of a load that takes nothing is everything there is.
double ratio(double asked, double full) {
  if (asked <= 0.0) return 0.0;
  return full > 0.0 ? asked / full : 1.0e9;
}

bool has_supply(const FullConduction& full) {
  return full.voltage_V > 0.0 || full.current_A > 0.0 || full.power_W > 0.0;
}

}  // namespace

double share_of_demand(const ControlSpec& control, double demand, const FullConduction& full) {
  double share = 0.0;
  switch (control.variable) {
    case ControlVariable::open_loop:
      share = demand;
      break;
    case ControlVariable::voltage:
      share = square(ratio(demand * control.full_scale, full.voltage_V));
      break;
    case ControlVariable::voltage_squared:
      share = demand * square(ratio(control.full_scale, full.voltage_V));
      break;
    case ControlVariable::current:
      share = square(ratio(demand * control.full_scale, full.current_A));
      break;
    case ControlVariable::power:
      share = ratio(demand * control.full_scale, full.power_W);
      break;
  }
  return std::clamp(share, 0.0, 1.0);
}

Limited apply_limits(const LimitsSpec& limits, double wanted, const FullConduction& full) {
  Limited limited{wanted, 0};
  const auto hold = [&](const std::optional<double>& limit, double at_full, bool squared, Warning warning) {
    if (!limit || at_full <= 0.0) return;
    const double allowed = squared ? square(*limit / at_full) : *limit / at_full;
    if (allowed >= wanted || allowed > limited.output) return;
    limited.acting = allowed < limited.output ? bit(warning) : limited.acting | bit(warning);
    limited.output = allowed;
  };
  hold(limits.current_A, full.current_A, true, Warning::current_limit);
  hold(limits.voltage_V, full.voltage_V, true, Warning::voltage_limit);
  hold(limits.power_W, full.power_W, false, Warning::power_limit);
  return limited;
}

CommandPath::CommandPath(const FiringSpec& firing, const ControlSpec& control, const LimitsSpec& limits)
    : firing_(firing), control_(control), limits_(limits), ramp_(firing.ramp) {}

void CommandPath::aim(SimTime at, double target) {
  if (on_ && target == target_) return;
  on_ = true;
  target_ = target;
  if (supplied_) ramp_.aim(at, target);
  update(at);
}

void CommandPath::off(SimTime at) {
  if (!on_) return;
  on_ = false;
  ramp_.jump(at, 0.0);
  update(at);
}

void CommandPath::advance(SimTime now, const FullConduction& full) {
  const bool supplied = has_supply(full);
  full_ = full;
  if (supplied && !supplied_ && on_) ramp_.aim(now, target_);
  if (!supplied && supplied_) ramp_.jump(now, 0.0);
  supplied_ = supplied;
  update(now);
}

void CommandPath::update(SimTime at) {
  demand_ = ramp_.value(at);
  limited_ = Limited{};
  if (!on_ || !supplied_) return;
  if (firing_.held_angle_deg) {
    limited_.output = std::clamp(full_.held_share, 0.0, 1.0);
    return;
  }
  limited_ = apply_limits(limits_, share_of_demand(control_, demand_, full_), full_);
}

Drive CommandPath::drive() const {
  Drive drive{limited_.output, std::nullopt};
  if (on_ && supplied_) drive.held_angle_deg = firing_.held_angle_deg;
  return drive;
}

bool CommandPath::ramping() const {
  return on_ && supplied_ && !firing_.held_angle_deg && demand_ != ramp_.target();
}

}  // namespace emberline::unit
