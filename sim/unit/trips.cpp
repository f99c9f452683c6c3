#include "sim/unit/trips.hpp"

#include <algorithm>

#include "sim/unit/protection_info.hpp"

namespace emberline::unit {

void Trips::latch(Protection protection, bool cause_stays) {
  One& one = all_[static_cast<std::size_t>(protection)];
  one.latched = true;
  one.cause = cause_stays;
  if (cause_stays) {
    one.inputs.forget();
  } else {
    one.inputs.cause_gone();
  }
  count_bits();
}

void Trips::cause_gone(Protection protection) {
  One& one = all_[static_cast<std::size_t>(protection)];
  if (!one.latched || !one.cause) return;
  one.cause = false;
  one.inputs.cause_gone();
}

void Trips::cause_back(Protection protection) {
  One& one = all_[static_cast<std::size_t>(protection)];
  if (!one.latched || one.cause) return;
  one.cause = true;
  one.inputs.forget();
}

void Trips::power_cycled() {
  for (One& one : all_) {
    one.latched = false;
    one.cause = false;
    one.inputs.power_cycled();
  }
  count_bits();
}

Trips::Outcomes Trips::level(const ResetLevel& level) {
  Outcomes outcomes{};
  for (std::size_t p = 0; p < all_.size(); ++p) {
    ResetInputs& inputs = all_[p].inputs;
    const auto seen = level.by == ResetBy::enable_cycle     ? inputs.enable(level.on)
                      : level.by == ResetBy::reset_terminal ? inputs.reset_terminal(level.on)
                                                            : inputs.reset_register(level.on);
    outcomes[p] = outcome(p, level.by, seen);
  }
  count_bits();
  return outcomes;
}

Trips::Outcome Trips::outcome(std::size_t p, ResetBy by, ResetInputs::Seen seen) {
  One& one = all_[p];
  if (seen == ResetInputs::Seen::nothing || !one.latched) return Outcome::nothing;
  const auto& allowed = specs_[p].reset_by;
  if (std::find(allowed.begin(), allowed.end(), by) == allowed.end()) return Outcome::not_allowed;
  if (seen == ResetInputs::Seen::too_early) return Outcome::cause_there;
  if (seen == ResetInputs::Seen::begun_before) return Outcome::begun_before;
  one.latched = false;
  one.inputs.forget();
  return Outcome::cleared;
}

bool Trips::latched(Protection protection) const {
  return all_[static_cast<std::size_t>(protection)].latched;
}

bool Trips::cause(Protection protection) const {
  const One& one = all_[static_cast<std::size_t>(protection)];
  return one.latched && one.cause;
}

void Trips::count_bits() {
  bits_ = latched_ = 0;
  for (const auto& info : all_protections()) {
    if (!info.trip || !latched(info.protection)) continue;
    bits_ |= registers::bit(*info.trip);
    latched_ |= registers::bit(info.protection);
  }
}

}  // namespace emberline::unit
