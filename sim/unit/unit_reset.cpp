#include <algorithm>

#include "sim/unit/state.hpp"
#include "sim/unit/unit_core.hpp"
#include "sim/unit/words.hpp"

namespace emberline::unit {

std::string VirtualUnit::Impl::frames_needed() const {
  return std::to_string(watchdog_.restored()) + " of " +
         counted(spec_.comms_loss.restored_after, "feeding request") + " since the loss";
}

std::string VirtualUnit::Impl::how_to_reset() const {
  std::string ways;
  for (const ResetBy by : spec_.comms_loss.reset_by) {
    if (!ways.empty()) ways += " or ";
    ways += to_word(by);
  }
  return "latched; to clear it: first comms (" + counted(spec_.comms_loss.restored_after, "feeding request") +
         "), then a reset by " + ways;
}

void VirtualUnit::Impl::reset_seen(ResetBy by, ResetInputs::Seen seen, SimTime at) {
  if (seen == ResetInputs::Seen::nothing || !watchdog_.latched() || !answers(state_)) return;
  const std::string refused = "reset by " + std::string(to_word(by)) + " refused: ";
  const auto& allowed = spec_.comms_loss.reset_by;
  if (std::find(allowed.begin(), allowed.end(), by) == allowed.end()) {
    note(at, refused + "it is not among reset_by of this unit");
    return;
  }
  switch (seen) {
    case ResetInputs::Seen::reset:
      reset(by, at);
      break;
    case ResetInputs::Seen::too_early:
      note(at, refused + "comms are not back (" + frames_needed() + "); comms first, then reset again");
      break;
    case ResetInputs::Seen::begun_before:
      // A register that stands at 1 may be written every cycle; once is enough to say so.
      if (by == ResetBy::reset_register && stuck_register_noted_) break;
      stuck_register_noted_ = by == ResetBy::reset_register;
      note(at, refused + (by == ResetBy::enable_cycle
                              ? "terminal enable was open before comms were back; open and close it again"
                              : "it was on before comms were back; take it off, then put it on again"));
      break;
    case ResetInputs::Seen::nothing:
      break;
  }
}

void VirtualUnit::Impl::reset(ResetBy by, SimTime at) {
  watchdog_.reset();
  reset_inputs_.forget();
  std::string sentence = "latch cleared: reset by " + std::string(to_word(by)) + " after comms were back";
  if (spec_.comms_loss.setpoint_after_reset == SetpointAfterReset::zero) {
    settings_.setpoint = 0.0;
    watchdog_.setpoint_written();
    zeroed_at_ = at;
    sentence += "; setpoint set to 0 %";
  } else {
    sentence += "; setpoint kept at " + percent_text(settings_.setpoint);
  }
  note(at, sentence);
  refresh(at, "reset by " + std::string(to_word(by)));
}

}  // namespace emberline::unit
