#include <algorithm>

#include "sim/unit/protection_info.hpp"
#include "sim/unit/state.hpp"
#include "sim/unit/unit_core.hpp"
#include "sim/unit/words.hpp"

namespace emberline::unit {

std::string VirtualUnit::Impl::frames_needed() const {
  return std::to_string(watchdog_.restored()) + " of " +
         counted(spec_.comms_loss.restored_after, "feeding request") + " since the loss";
}

std::string VirtualUnit::Impl::how_to_reset() const {
  return "latched; to clear it: first comms (" + counted(spec_.comms_loss.restored_after, "feeding request") +
         "), then a reset by " + any_of_words(spec_.comms_loss.reset_by);
}

void VirtualUnit::Impl::reset_seen(const ResetLevel& level, SimTime at) {
  const auto seen = level.by == ResetBy::enable_cycle     ? reset_inputs_.enable(level.on)
                    : level.by == ResetBy::reset_terminal ? reset_inputs_.reset_terminal(level.on)
                                                          : reset_inputs_.reset_register(level.on);
  const bool latch_cleared = reset_comms_loss(level.by, seen, at);
  const bool trip_cleared = reset_trips(level, at);
  if (!latch_cleared && !trip_cleared) return;
  ++settings_version_;
  refresh(at, "reset by " + std::string(to_word(level.by)));
}

bool VirtualUnit::Impl::reset_comms_loss(ResetBy by, ResetInputs::Seen seen, SimTime at) {
  if (seen == ResetInputs::Seen::nothing || !watchdog_.latched() || !answers(state_)) return false;
  const std::string refused = "reset by " + std::string(to_word(by)) + " refused: ";
  const auto& allowed = spec_.comms_loss.reset_by;
  if (std::find(allowed.begin(), allowed.end(), by) == allowed.end()) {
    note(at, refused + "it is not among reset_by of this unit");
    return false;
  }
  switch (seen) {
    case ResetInputs::Seen::reset:
      clear_latch(by, at);
      return true;
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
  return false;
}

void VirtualUnit::Impl::clear_latch(ResetBy by, SimTime at) {
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
}

bool VirtualUnit::Impl::reset_trips(const ResetLevel& level, SimTime at) {
  const auto outcomes = trips_.level(level);
  bool cleared = false;
  for (const auto& info : all_protections()) {
    const auto outcome = outcomes[static_cast<std::size_t>(info.protection)];
    if (outcome == Trips::Outcome::cleared) {
      cleared = true;
      note(at, "trip " + std::string(info.word) + " cleared: reset by " + std::string(to_word(level.by)));
    } else if (outcome != Trips::Outcome::nothing) {
      refuse_trip(info.protection, level.by, outcome, at);
    }
  }
  return cleared;
}

void VirtualUnit::Impl::refuse_trip(Protection protection, ResetBy by, Trips::Outcome outcome, SimTime at) {
  // A program may try at every cycle; a reader has enough with one every few seconds. Between the numbers of
  // warnings and those of refused writes, which share the throttle.
  const int key = 50 + 4 * static_cast<int>(protection) + static_cast<int>(outcome) - 1;
  if (!throttle_.lets_through(key, at)) return;
  const std::string word(protection_info(protection).word);
  const std::string refused = "reset by " + std::string(to_word(by)) + " refused: ";
  if (outcome == Trips::Outcome::not_allowed) {
    note(at, refused + "it is not among reset_by of " + word);
  } else if (outcome == Trips::Outcome::cause_there) {
    note(at, refused + "the cause of trip " + word + " is still there");
  } else {
    note(at, refused + (by == ResetBy::enable_cycle ? "terminal enable was open before the cause of trip " +
                                                          word + " had gone; open and close it again"
                                                    : "it was on before the cause of trip " + word +
                                                          " had gone; take it off, then put it on again"));
  }
}

}  // namespace emberline::unit
