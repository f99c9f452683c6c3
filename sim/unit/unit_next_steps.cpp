#include <algorithm>
#include <utility>

#include "sim/base/duration_text.hpp"
#include "sim/unit/protection_info.hpp"
#include "sim/unit/unit_core.hpp"
#include "sim/unit/words.hpp"

namespace emberline::unit {
namespace {

using registers::State;

/// A reset as something to do.
std::string order(ResetBy by) {
  switch (by) {
    case ResetBy::enable_cycle:
      return "open terminal enable, then close it";
    case ResetBy::reset_terminal:
      return "close terminal reset (open it first if it is closed)";
    case ResetBy::reset_register:
      return "write 0, then 1 to the reset register";
  }
  return {};
}

std::string any_order(const std::vector<ResetBy>& ways) {
  std::string text;
  for (const auto by : ways) text += (text.empty() ? "" : ", or ") + order(by);
  return text;
}

}  // namespace

void VirtualUnit::Impl::steps_of_latches(std::vector<NextStep>& steps) const {
  // One edge resets all that it may: those with the same ways out are one step.
  std::vector<std::pair<std::vector<ResetBy>, std::string>> resets;
  const auto add_reset = [&resets](const std::vector<ResetBy>& ways, const std::string& what) {
    for (auto& [known, names] : resets) {
      if (known != ways) continue;
      names += " and " + what;
      return;
    }
    resets.emplace_back(ways, what);
  };
  for (const auto& info : all_protections()) {
    if (!trips_.latched(info.protection)) continue;
    const std::string word(info.word);
    steps.push_back({"Take away what made it trip: " + word, !trips_.cause(info.protection)});
    add_reset(spec_.protections[static_cast<std::size_t>(info.protection)].reset_by, "the trip " + word);
  }
  if (watchdog_.latched()) {
    steps.push_back({"Bring comms back first: " + frames_needed(), watchdog_.step_one()});
    add_reset(spec_.comms_loss.reset_by, "the latch");
  }
  for (const auto& [ways, what] : resets)
    steps.push_back({"Then reset " + what + ": " + any_order(ways), false});
}

void VirtualUnit::Impl::steps_of_comms(std::vector<NextStep>& steps) const {
  if (watchdog_.at_preset()) {
    if (watchdog_.lost()) steps.push_back({"Bring comms back: a feeding request ends the loss", false});
    steps.push_back({"Write a setpoint: until then the output stays at the preset", false});
  } else if (watchdog_.holding()) {
    steps.push_back({"Bring comms back: a feeding request ends the hold; until then it heats blind", false});
  }
}

std::vector<NextStep> VirtualUnit::Impl::next_steps(SimTime now) const {
  std::vector<NextStep> steps;
  if (!powered_) return {{"Switch the unit's control supply on", false}};
  if (start_up_over_) {
    const Duration left = std::chrono::ceil<std::chrono::milliseconds>(*start_up_over_ - now);
    return {{"Wait: it starts up for another " + format_duration(std::max(Duration{}, left)), false}};
  }
  steps_of_latches(steps);
  steps_of_comms(steps);
  if (!terminal(Terminal::enable)) steps.push_back({"Close terminal enable", false});
  if (!measured_.supply_present)
    steps.push_back({"Bring the supply back: the contactor is open, or the mains is gone", false});
  if (state_ == State::running && selected_setpoint() == 0.0) {
    steps.push_back(
        {settings_.local && spec_.local_setpoint_signal
             ? "Raise " + *spec_.local_setpoint_signal + ": the local setpoint follows it, and is at 0 %"
         : settings_.local ? std::string("Turn the local setpoint up: it is at 0 %")
         : zeroed_at_      ? std::string("Write a setpoint: the reset has set it to 0 %")
                           : std::string("Write a setpoint: it is at 0 %"),
         false});
  }
  return steps;
}

}  // namespace emberline::unit
