#include "sim/unit/reset_inputs.hpp"

namespace emberline::unit {

void ResetInputs::comms_back() {
  counting_ = true;
  enable_opened_ = false;
  reset_was_open_ = !reset_closed_;
  register_was_zero_ = !register_one_;
}

void ResetInputs::forget() {
  counting_ = false;
  enable_opened_ = false;
  reset_was_open_ = false;
  register_was_zero_ = false;
}

void ResetInputs::power_cycled() {
  forget();
  register_one_ = false;
}

ResetInputs::Seen ResetInputs::judge(bool begun_after) const {
  if (!counting_) return Seen::too_early;
  return begun_after ? Seen::reset : Seen::begun_before;
}

ResetInputs::Seen ResetInputs::enable(bool closed) {
  if (closed == enable_closed_) return Seen::nothing;
  enable_closed_ = closed;
  if (!closed) {
    enable_opened_ = counting_;
    return Seen::nothing;
  }
  return judge(enable_opened_);
}

ResetInputs::Seen ResetInputs::reset_terminal(bool closed) {
  if (closed == reset_closed_) return Seen::nothing;
  reset_closed_ = closed;
  if (!closed) {
    reset_was_open_ = counting_;
    return Seen::nothing;
  }
  return judge(reset_was_open_);
}

ResetInputs::Seen ResetInputs::reset_register(bool one) {
  const bool was_one = register_one_;
  register_one_ = one;
  if (!one) {
    register_was_zero_ = counting_;
    return Seen::nothing;
  }
  if (!was_one) return judge(register_was_zero_);
  // A 1 written over a 1 is no edge; after (1) the operator has to be told why nothing happens.
  return counting_ && !register_was_zero_ ? Seen::begun_before : Seen::nothing;
}

}  // namespace emberline::unit
