#include "sim/unit/reset_inputs.hpp"

namespace emberline::unit {

void ResetInputs::cause_gone() {
  counting_ = true;
  enable_opened_ = false;
}

void ResetInputs::forget() {
  counting_ = false;
  enable_opened_ = false;
}

void ResetInputs::power_cycled() {
  forget();
  register_one_ = false;
}

ResetInputs::Seen ResetInputs::enable(bool closed) {
  if (closed == enable_closed_) return Seen::nothing;
  enable_closed_ = closed;
  if (!closed) {
    enable_opened_ = true;
    return Seen::nothing;
  }
  if (!counting_) return Seen::too_early;
  return enable_opened_ ? Seen::reset : Seen::begun_before;
}

ResetInputs::Seen ResetInputs::reset_terminal(bool closed) {
  if (closed == reset_closed_) return Seen::nothing;
  reset_closed_ = closed;
  if (!closed) return Seen::nothing;
  return counting_ ? Seen::reset : Seen::too_early;
}

ResetInputs::Seen ResetInputs::reset_register(bool one) {
  const bool was_one = register_one_;
  register_one_ = one;
  if (!one) return Seen::nothing;
  if (!was_one) return counting_ ? Seen::reset : Seen::too_early;
  // A 1 over a 1 is no edge; once edges count the operator has to be told why nothing happens.
  return counting_ ? Seen::begun_before : Seen::nothing;
}

}  // namespace emberline::unit
