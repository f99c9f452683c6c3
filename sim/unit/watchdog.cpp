#include "sim/unit/watchdog.hpp"

#include <algorithm>
#include <cassert>

namespace emberline::unit {

using registers::Policy;

Watchdog::Watchdog(const Rules& rules, const Settings& settings) : rules_(rules), settings_(settings) {
  assert(rules.restored_after >= 1);
}

void Watchdog::start(SimTime at) {
  listening_ = true;
  armed_ = rules_.from == ArmedFrom::power_up;
  lost_ = false;
  preset_ = false;
  step_one_ = false;
  restored_ = 0;
  last_feed_ = at;
  longest_gap_ = Duration{};
}

void Watchdog::stop(bool keep_latch) {
  listening_ = false;
  armed_ = false;
  lost_ = false;
  preset_ = false;
  step_one_ = false;
  restored_ = 0;
  longest_gap_ = Duration{};
  latched_ = latched_ && keep_latch;
}

Watchdog::Fed Watchdog::feed(SimTime at) {
  Fed fed;
  const bool supervised = settings_.timeout > Duration{};
  if (armed_) {
    fed.gap = at - last_feed_;
    longest_gap_ = std::max(longest_gap_, *fed.gap);
  } else {
    fed.armed = true;
    armed_ = true;
  }
  if (latched_ && !step_one_) {
    const bool close = !supervised || !fed.gap || *fed.gap < settings_.timeout;
    restored_ = close ? restored_ + 1 : 1;
    if (restored_ >= rules_.restored_after) {
      step_one_ = true;
      fed.step_one = true;
      fed.comms_back = lost_;
      lost_ = false;
    }
  } else if (lost_) {
    fed.comms_back = true;
    lost_ = false;
  }
  last_feed_ = at;
  return fed;
}

std::optional<SimTime> Watchdog::due() const {
  if (!listening_ || !armed_ || lost_ || settings_.timeout <= Duration{}) return std::nullopt;
  return last_feed_ + settings_.timeout;
}

void Watchdog::expire() {
  assert(due());
  lose();
}

void Watchdog::lose() {
  lost_ = true;
  step_one_ = false;  // comms lost again between the two steps: back before (1)
  restored_ = 0;
  act();
}

void Watchdog::act() {
  if (!lost_ || !acts_) return;
  if (settings_.policy == Policy::latch_to_inhibit) latched_ = true;
  // What comes after a latch is decided at its reset, not by a policy that came later.
  if (settings_.policy == Policy::go_to_preset && !latched_) preset_ = true;
}

bool Watchdog::set(const Settings& settings, SimTime at) {
  const Settings before = settings_;
  settings_ = settings;
  if (settings.timeout != before.timeout) {
    const bool supervised = settings.timeout > Duration{};
    if (lost_ && (!supervised || last_feed_ + settings.timeout > at)) lost_ = false;
    // An expiry at this very instant is left to the timers: frames of the instant are still in time.
    if (const auto expiry = due(); expiry && *expiry < at) {
      lose();
      return true;
    }
  }
  if (settings.policy != before.policy) act();
  return false;
}

void Watchdog::set_acts(bool acts) {
  if (acts == acts_) return;
  acts_ = acts;
  act();
}

void Watchdog::reset() {
  assert(latched_ && step_one_);
  latched_ = false;
  step_one_ = false;
  restored_ = 0;
}

bool Watchdog::holding() const { return lost_ && acts_ && settings_.policy == Policy::hold_last_command; }

Duration Watchdog::age(SimTime now) const { return listening_ ? now - last_feed_ : Duration{}; }

Duration Watchdog::longest_gap(SimTime now) const {
  return armed_ ? std::max(longest_gap_, now - last_feed_) : longest_gap_;
}

}  // namespace emberline::unit
