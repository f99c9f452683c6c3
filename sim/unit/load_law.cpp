#include "sim/unit/load_law.hpp"

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

double highest(const std::array<double, 3>& values, int phases) {
  return phases == 1 ? values[0] : *std::max_element(values.begin(), values.end());
}

double highest_A(const FullConduction& full) {
  return full.highest_A > 0.0 ? full.highest_A : full.current_A;
}

double mean(const std::array<double, 3>& values, int phases) {
  return phases == 1 ? values[0] : (values[0] + values[1] + values[2]) / 3.0;
}

}  // namespace

double share_of_demand(const ControlSpec& control, double demand, const FullConduction& full,
                       const Trims& trims) {
  double share = 0.0;
  switch (control.variable) {
    case ControlVariable::open_loop:
      share = demand;
      break;
    case ControlVariable::voltage:
      share = square(ratio(demand * control.full_scale, full.voltage_V)) * trims.voltage;
      break;
    case ControlVariable::voltage_squared:
      share = demand * square(ratio(control.full_scale, full.voltage_V)) * trims.voltage;
      break;
    case ControlVariable::current:
      share = square(ratio(demand * control.full_scale, full.current_A)) * trims.current;
      break;
    case ControlVariable::power:
      share = ratio(demand * control.full_scale, full.power_W) * trims.power;
      break;
  }
  return std::clamp(share, 0.0, 1.0);
}

Limited apply_limits(const LimitsSpec& limits, double wanted, const FullConduction& full,
                     const Trims& trims) {
  Limited limited{wanted, 0};
  const auto hold = [&](double allowed, Warning warning) {
    if (allowed >= wanted || allowed > limited.output) return;
    limited.acting = allowed < limited.output ? bit(warning) : limited.acting | bit(warning);
    limited.output = allowed;
  };
  if (limits.current_A && highest_A(full) > 0.0)
    hold(square(*limits.current_A / highest_A(full)) * trims.highest_current, Warning::current_limit);
  if (limits.voltage_V && full.voltage_V > 0.0)
    hold(square(*limits.voltage_V / full.voltage_V) * trims.voltage, Warning::voltage_limit);
  if (limits.power_W && full.power_W > 0.0)
    hold(*limits.power_W / full.power_W * trims.power, Warning::power_limit);
  return limited;
}

void LoadLaw::learn(const CycleSeen& cycle, int phases, double output, const FullConduction& full) {
  last_move_ = 0.0;
  const auto plain = [output](double trim) { return std::min(1.0, output / trim); };
  correct(trims_.voltage, std::sqrt(plain(trims_.voltage)) * full.voltage_V, mean(cycle.load_V, phases), 1.0);
  correct(trims_.current, std::sqrt(plain(trims_.current)) * full.current_A, mean(cycle.load_A, phases), 1.0);
  correct(trims_.highest_current, std::sqrt(plain(trims_.highest_current)) * highest_A(full),
          highest(cycle.load_A, phases), 1.0);
  correct(trims_.power, plain(trims_.power) * full.power_W, cycle.power_W, 0.5);
}

void LoadLaw::correct(double& trim, double expected, double measured, double exponent) {
  constexpr double kLargest = 20.0;
  if (expected <= 0.0 || measured <= 0.0 || std::abs(expected / measured - 1.0) <= kPlainWithin) return;
  const double corrected =
      std::clamp(trim * std::pow(expected / measured, exponent), 1.0 / kLargest, kLargest);
  last_move_ = std::max(last_move_, std::abs(corrected / trim - 1.0));
  trim = corrected;
}

}  // namespace emberline::unit
