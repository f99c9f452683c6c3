#include "sim/unit/command_path.hpp"

#include <algorithm>
#include <cmath>

namespace emberline::unit {

namespace {

/// Closer than this the output has arrived.
constexpr double kArrived = 1.0e-4;

bool has_supply(const FullConduction& full) {
  return full.voltage_V > 0.0 || full.current_A > 0.0 || full.power_W > 0.0;
}

/// True if the load is the one it was, but for warming up: what a cycle across a change shows is neither.
bool same_load(const FullConduction& before, const FullConduction& after) {
  constexpr double kWarmingUp = 0.01;
  const auto near = [](double a, double b) { return std::abs(a - b) <= kWarmingUp * std::max(a, b); };
  return near(before.voltage_V, after.voltage_V) && near(before.current_A, after.current_A) &&
         near(before.highest_A, after.highest_A) && near(before.power_W, after.power_W);
}

/// Those a power stage can hold: whole cycles are what they are, so that bursts cannot limit a current.
void keep_what_can_act(LimitsSpec& limits, FiringMode mode) {
  if (in_bursts(mode)) limits.current_A.reset();
}

}  // namespace

CommandPath::CommandPath(const FiringSpec& firing, const ControlSpec& control, const LimitsSpec& limits)
    : firing_(firing), control_(control), limits_(limits), ramp_(firing.ramp) {
  keep_what_can_act(limits_, firing.mode);
}

void CommandPath::aim(SimTime at, double target) {
  if (on_ && target == target_) return;
  // Until now the loop has followed the old target.
  move(at, true);
  on_ = true;
  target_ = target;
  if (supplied_) ramp_.aim(at, target);
  move(at, false);
}

void CommandPath::off(SimTime at) {
  if (!on_) return;
  on_ = false;
  ramp_.jump(at, 0.0);
  move(at, false);
}

void CommandPath::set_limits(SimTime at, const LimitsSpec& limits) {
  LimitsSpec acting = limits;
  keep_what_can_act(acting, firing_.mode);
  if (acting == limits_) return;
  limits_ = acting;
  move(at, false);
}

void CommandPath::saw(const CycleSeen& cycle, int phases) {
  cycle_ = cycle;
  phases_ = phases;
  cycle_new_ = true;
}

void CommandPath::advance(SimTime now, const FullConduction& full) {
  if (cycle_new_) learn(now, full);
  const bool supplied = has_supply(full);
  full_ = full;
  if (supplied && !supplied_ && on_) ramp_.aim(now, target_);
  if (!supplied && supplied_) ramp_.jump(now, 0.0);
  supplied_ = supplied;
  move(now, cycle_new_);
  cycle_new_ = false;
}

void CommandPath::learn(SimTime now, const FullConduction& full) {
  constexpr double kTooLittle = 1.0e-4;
  law_.stand_still();
  const bool needed = control_.variable != ControlVariable::open_loop || limits_.current_A ||
                      limits_.voltage_V || limits_.power_W;
  const double output = limited_.output;
  if (!needed || in_bursts(firing_.mode) || firing_.held_angle_deg || !cycle_.fired) return;
  // At the ends every law is the same.
  if (!on_ || output < kTooLittle || output >= 1.0) return;
  if (!same_load(full_, full) || !whole_cycle_at_one_output(now)) return;
  law_.learn(cycle_, phases_, output, full_);
}

bool CommandPath::whole_cycle_at_one_output(SimTime now) const {
  // Between two cycles the output may have become another one without any cycle having been fired by it.
  if (cycle_.frequency_Hz <= 0.0 || cycle_.output != limited_.output) return false;
  const Duration cycle = from_seconds(1.0 / cycle_.frequency_Hz);
  // A frequency of 60 Hz has no whole nanoseconds.
  if (now - changed_at_ < cycle - std::chrono::microseconds{1}) return false;
  // While conduction begins softly the angle is not that of the output.
  return firing_.soft_start == Duration{} || now - conducts_since_ > firing_.soft_start + 2 * cycle;
}

void CommandPath::move(SimTime at, bool step) {
  const double before = limited_.output;
  demand_ = ramp_.value(at);
  limited_ = Limited{};
  if (!on_ || !supplied_) {
    law_.forget();
    share_ = 0.0;
    followed_at_ = at;
  } else if (firing_.held_angle_deg) {
    limited_.output = std::clamp(full_.held_share, 0.0, 1.0);
  } else {
    const Trims& trims = law_.trims();
    const Limited wanted =
        apply_limits(limits_, compensated(share_of_demand(control_, demand_, full_, trims)), full_, trims);
    share_ = wanted.output;
    limited_.output = before;
    follow(at, share_, step);
    // Limits do not wait for the loop.
    limited_ = {apply_limits(limits_, limited_.output, full_, trims).output, wanted.acting};
  }
  if (limited_.output == before) return;
  changed_at_ = at;
  if (before == 0.0) conducts_since_ = at;
}

void CommandPath::follow(SimTime at, double share, bool step) {
  double& output = limited_.output;
  if (control_.response <= Duration{}) {
    output = share;
    return;
  }
  if (!step) return;
  const double lasted = to_seconds(at - followed_at_) / to_seconds(control_.response);
  output += control_.gain * (1.0 - std::exp(-lasted)) * (share - output);
  output = std::abs(share - output) <= kArrived ? share : std::clamp(output, 0.0, 1.0);
  followed_at_ = at;
}

double CommandPath::compensated(double share) const {
  if (!control_.supply_compensation || control_.variable != ControlVariable::open_loop) return share;
  double sum_V2 = 0.0;
  int lines = 0;
  for (std::size_t line = 0; line < cycle_.used.size(); ++line) {
    if (!cycle_.used[line]) continue;
    sum_V2 += cycle_.supply_V[line] * cycle_.supply_V[line];
    ++lines;
  }
  if (sum_V2 <= 0.0 || cycle_.nominal_supply_V <= 0.0) return share;
  const double nominal_V2 = cycle_.nominal_supply_V * cycle_.nominal_supply_V * lines;
  return std::clamp(share * nominal_V2 / sum_V2, 0.0, 1.0);
}

Drive CommandPath::drive() const {
  Drive drive{limited_.output, std::nullopt};
  if (on_ && supplied_) drive.held_angle_deg = firing_.held_angle_deg;
  return drive;
}

bool CommandPath::ramping() const {
  return on_ && supplied_ && !firing_.held_angle_deg && demand_ != ramp_.target();
}

bool CommandPath::unsettled() const {
  if (!on_ || !supplied_ || firing_.held_angle_deg) return false;
  return ramping() || std::abs(share_ - limited_.output) > kArrived || law_.last_move() > kArrived;
}

}  // namespace emberline::unit
