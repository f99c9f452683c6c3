#include "sim/unit/unit_core.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/duration_text.hpp"
#include "sim/unit/state.hpp"
#include "sim/unit/words.hpp"

namespace emberline::unit {

using registers::State;

VirtualUnit::Impl::Impl(const UnitSpec& spec, JournalSink& journal, UnitObserver& observer)
    : spec_(spec),
      path_(spec.firing, spec.control, spec.limits),
      journal_(journal),
      observer_(observer),
      watchdog_({spec.comms_loss.from, spec.comms_loss.restored_after},
                {spec.comms_loss.timeout, spec.comms_loss.policy}),
      intake_(spec.intake),
      settings_(initial_settings(spec)),
      partial_load_(supervises_parts() ? spec.learn_on : LearnOn::command,
                    supervises_parts() ? spec.load_reference_S : std::vector<double>{}),
      protections_(spec.protections),
      trips_(spec.protections),
      local_setpoint_(spec.local_setpoint.value_or(0.0)) {
  watchdog_.set_acts(watchdog_acts());
  watchdog_.start(SimTime{});
  aim(SimTime{});
}

bool VirtualUnit::Impl::terminal(Terminal which) const { return closed_[static_cast<std::size_t>(which)]; }

void VirtualUnit::Impl::set_terminal(Terminal which, bool closed, SimTime at) {
  run_before(at);
  if (terminal(which) == closed) return;
  closed_[static_cast<std::size_t>(which)] = closed;
  if (which == Terminal::enable) {
    reset_seen({ResetBy::enable_cycle, closed}, at);
    refresh(at, closed ? "terminal enable closed" : "terminal enable opened");
  } else {
    reset_seen({ResetBy::reset_terminal, closed}, at);
  }
}

void VirtualUnit::Impl::set_powered(bool on, SimTime at) {
  run_before(at);
  if (on == powered_) return;
  if (!on) {
    power_off(at);
    return;
  }
  powered_ = true;
  start_up_over_ = at + std::max(spec_.start_up, Duration{});
  refresh(at, "control supply on");
  // Without a start-up time there is nothing to wait for.
  if (*start_up_over_ == at) started(at);
}

void VirtualUnit::Impl::power_off(SimTime at) {
  const bool was_latched = watchdog_.latched();
  powered_ = false;
  start_up_over_.reset();
  intake_.reset();
  watchdog_.stop(spec_.comms_loss.latch_survives_power);
  reset_inputs_.power_cycled();
  const bool was_tripped = trips_.any();
  trips_.power_cycled();
  protections_.forget();
  partial_load_.interrupted();
  warned_ = told_of_ = 0;
  untold_.clear();
  after_fired_ = false;
  settings_ = after_power_cycle(settings_, spec_);
  path_.set_limits(at, limits());
  zeroed_at_.reset();
  refresh(at, "control supply off");
  if (was_latched) {
    note(at, watchdog_.latched() ? "the comms-loss latch survives the loss of power"
                                 : "the comms-loss latch is cleared by the loss of power");
  }
  if (was_tripped) {
    note(at, "trips are cleared by the loss of power; they come again if their causes are still there");
  }
}

void VirtualUnit::Impl::started(SimTime at) {
  start_up_over_.reset();
  const bool unexpired = watchdog_.set({settings_.comms_timeout, settings_.comms_policy}, at);
  static_cast<void>(unexpired);  // stopped: nothing can have expired
  watchdog_.set_acts(watchdog_acts());
  watchdog_.start(at);
  closest_call_noted_ = Duration{};
  stuck_register_noted_ = false;
  refresh(at, "start-up over");
}

void VirtualUnit::Impl::set_local_setpoint(double fraction, SimTime at) {
  run_before(at);
  local_setpoint_ = std::isnan(fraction) ? 0.0 : std::clamp(fraction, 0.0, 1.0);
  refresh(at, "");
}

std::optional<SimTime> VirtualUnit::Impl::next_timer() const {
  std::optional<SimTime> next;
  for (const auto& due : {start_up_over_, intake_.due(), untold_due(), watchdog_.due()}) {
    if (due && (!next || *due < *next)) next = due;
  }
  return next;
}

void VirtualUnit::Impl::run_timers(SimTime now) {
  for (auto due = next_timer(); due && *due <= now; due = next_timer()) fire(*due);
}

void VirtualUnit::Impl::run_before(SimTime at) {
  for (auto due = next_timer(); due && *due < at; due = next_timer()) fire(*due);
}

void VirtualUnit::Impl::fire(SimTime due) {
  if (start_up_over_ == due) {
    started(due);
  } else if (intake_.due() == due) {
    intake_.expire();
  } else if (untold_due() == due) {
    tell_late(due);
  } else {
    watchdog_.expire();
    comms_lost(due);
  }
}

void VirtualUnit::Impl::comms_lost(SimTime at) {
  reset_inputs_.forget();
  stuck_register_noted_ = false;
  const std::string reason = "no feeding request for " + format_duration(watchdog_.age(at));
  std::string sentence = "comms lost: " + reason + ", the timeout is " +
                         format_duration(settings_.comms_timeout) + "; policy " +
                         std::string(registers::to_word(settings_.comms_policy));
  if (!watchdog_acts()) sentence += " only warns while the setpoint is local";
  note(at, sentence);
  refresh(at, reason);
}

void VirtualUnit::Impl::refresh(SimTime at, std::string_view reason, std::string_view who) {
  const State next = decide_state({.powered = powered_,
                                   .starting = start_up_over_.has_value(),
                                   .tripped = trips_.any(),
                                   .latched = watchdog_.latched(),
                                   .enabled = terminal(Terminal::enable),
                                   .at_preset = watchdog_.at_preset(),
                                   .holding = watchdog_.holding()});
  if (next != state_) {
    std::string sentence =
        "state " + std::string(registers::to_word(state_)) + " -> " + std::string(registers::to_word(next));
    if (!reason.empty()) sentence.append(": ").append(reason).append(who);
    state_ = next;
    note(at, sentence);
    if (next == State::inhibited) note(at, how_to_reset());
  }
  aim(at);
}

void VirtualUnit::Impl::aim(SimTime at) {
  // The command in force when the hold began is the one that is held, whatever is written meanwhile.
  if (!watchdog_.holding()) {
    held_command_.reset();
  } else if (!held_command_) {
    held_command_ = selected_setpoint();
  }
  count_run_time(at);
  const std::uint32_t limits_before = path_.limits_acting();
  switch (state_) {
    case State::running:
      path_.aim(at, selected_setpoint());
      break;
    case State::holding:
      path_.aim(at, *held_command_);
      break;
    case State::preset:
      path_.aim(at, std::clamp(spec_.comms_loss.preset, 0.0, 1.0));
      break;
    default:
      path_.off(at);
  }
  note_limits(at, limits_before);
}

double VirtualUnit::Impl::selected_setpoint() const {
  return std::clamp(settings_.local ? local_setpoint_ : settings_.setpoint, 0.0, 1.0);
}

bool VirtualUnit::Impl::watchdog_acts() const {
  return spec_.comms_loss.acts_in == ActsIn::always || !settings_.local;
}

}  // namespace emberline::unit
