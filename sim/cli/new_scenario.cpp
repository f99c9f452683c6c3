#include <cmath>
#include <functional>

#include "sim/base/quantity.hpp"
#include "sim/cli/new_texts.hpp"

namespace emberline::cli {
namespace {

using namespace std::chrono_literals;
using registers::Policy;

constexpr Duration kCut = 10s;
constexpr Duration kWaits = 500ms;   // of the stand-in, for an answer
constexpr Duration kMargin = 100ms;  // beyond the timeout
constexpr Duration kRound = 10ms;    // of what is printed
constexpr int kFailures = 2;         // in a row, and a slave is lost

/// When things happen. All whole seconds but for the period.
struct Plan {
  Duration period;     ///< of polling
  Duration restored;   ///< long enough after the cut for every slave to have been given up
  Duration reset;      ///< the operator cycles the enable terminals
  Duration commanded;  ///< the PLC asks for heat again
  Duration ends;
};

Duration whole_seconds(Duration time) { return std::chrono::ceil<std::chrono::seconds>(time); }

Plan plan_of(const Answers& answers) {
  Plan plan{};
  plan.period = *answers.polling_period();
  const Duration given_up = (kFailures + 1) * (answers.units * kWaits + plan.period);
  plan.restored = kCut + whole_seconds(answers.timeout) + whole_seconds(given_up) + 5s;
  plan.reset = plan.restored + 5s;
  plan.commanded = plan.reset + 5s;
  plan.ends = plan.commanded + 10s;
  return plan;
}

/// "{ heater-1.setpoint: 50 %, heater-2.setpoint: 50 % }"
std::string each(const Answers& answers, const std::string& what) {
  std::string text;
  for (int i = 0; i < answers.units; ++i) text += (i == 0 ? "" : ", ") + new_unit_name(i) + what;
  return text;
}

std::string setpoints(const Answers& answers, const char* value) {
  return "{ " + each(answers, std::string(".setpoint: ") + value) + " }";
}

/// An expectation whose conditions hold for every unit.
std::string expect(const Answers& answers, const std::string& name, const std::string& when,
                   const std::string& kind, std::initializer_list<std::string> conditions) {
  std::string text = "  - name: " + name + "\n    " + when + "\n    " + kind + ":\n";
  for (int i = 0; i < answers.units; ++i)
    for (const auto& condition : conditions) text += "      " + new_unit_name(i) + condition + "\n";
  return text;
}

/// first_write is about one point, so it is said once a unit.
std::string expect_first_write(const Answers& answers, const std::string& name, const std::string& restore,
                               const std::string& condition) {
  std::string text;
  for (int i = 0; i < answers.units; ++i)
    text += "  - name: " + new_unit_name(i) + " " + name + "\n    after: " + restore +
            "\n    first_write: { " + new_unit_name(i) + condition + " }\n";
  return text;
}

std::string masters(const Answers& answers, const Plan& plan) {
  std::string text =
      "masters:\n"
      "  plc:   # a stand-in; `emberline rehearse --real-master` leaves it out and waits for yours\n"
      "    lines: [" +
      new_line_name(answers) + "]\n    timeout: " + yaml_time(kWaits) +
      "\n    program:\n      - { at: 2 s, write: " + setpoints(answers, "50 %") +
      " }\n      - { every: " + yaml_time(plan.period) + ", read: [";
  for (int i = 0; i < answers.units; ++i)
    text += (i == 0 ? "" : ", ") + new_unit_name(i) + ".state, " + new_unit_name(i) + ".load_power";
  text += "] }\n";
  if (answers.policy != Policy::hold_last_command)
    text += "      - { at: " + yaml_time(plan.commanded) + ", write: " + setpoints(answers, "50 %") + " }\n";
  text += "    when_lost: { after: " + std::to_string(kFailures) + " failures, write: nothing }\n";
  if (answers.policy == Policy::latch_to_inhibit)
    text +=
        "    when_back: { write: " + setpoints(answers, "0 %") + " }   # no heat that nobody has asked for\n";
  if (answers.policy == Policy::hold_last_command)
    text +=
        "    when_back: { write: " + setpoints(answers, "50 %") + " }   # what they were left at: no bump\n";
  return text;
}

std::string timeline(const Answers& answers, const Plan& plan) {
  const auto line = new_line_name(answers);
  std::string text = "timeline:\n  - { at: " + yaml_time(kCut) + ", cut: " + line +
                     " }\n  - { at: " + yaml_time(plan.restored) + ", restore: " + line + " }\n";
  if (answers.policy != Policy::latch_to_inhibit) return text;
  for (int i = 0; i < answers.units; ++i)
    text += "  - { at: " + yaml_time(plan.reset) + ", cycle: " + new_unit_name(i) +
            ".terminal.enable }   # comms first, then this\n";
  return text;
}

/// When the units may act at the earliest and latest: the last feeding frame may be a poll period old.
std::string acts_within(const Answers& answers, const Plan& plan) {
  const auto earliest = (answers.timeout - plan.period - 2 * answers.polling_round()) / kRound * kRound;
  return "after: { cut: " + new_line_name(answers) + " }\n    not_before: " + yaml_time(earliest) +
         "\n    within: " + yaml_time(answers.timeout + kMargin);
}

std::string expectations(const Answers& answers, const Plan& plan) {
  const auto line = new_line_name(answers);
  const auto restore = "{ restore: " + line + " }";
  const auto heating =
      ".load_power: { above: " + format_quantity(0.4 * new_full_scale_W(answers), Dimension::power) + " }";
  const auto restored_for = "from: " + yaml_time(plan.reset) + "\n    until: " + yaml_time(plan.commanded);
  std::string text =
      "expect:\n" + expect(answers, "heats before the cut", "from: 6 s\n    until: { cut: " + line + " }",
                           "always", {".state: running", heating});
  switch (answers.policy) {
    case Policy::hold_last_command:
      text +=
          expect(answers, "holds after its timeout", acts_within(answers, plan), "that", {".state: holding"});
      text += expect(answers, "heats on, blind", "from: 6 s", "always", {heating});
      text += expect_first_write(answers, "is taken over without a bump", restore,
                                 ".setpoint: { near: 50 %, tolerance: 0.1 % }");
      text += expect(answers, "clears by itself", "after: " + restore + "\n    within: 5 s", "that",
                     {".state: running", ".relay.K1: closed"});
      break;
    case Policy::latch_to_inhibit:
      text += expect(answers, "latches in time", acts_within(answers, plan), "that", {".state: inhibited"});
      text += expect(answers, "stays off until it is reset",
                     "from: " + restore + "\n    until: { cycle: heater-1.terminal.enable }", "always",
                     {".state: inhibited", ".output: { at_most: 0 % }"});
      text += expect_first_write(answers, "is told zero first", restore, ".setpoint: { at_most: 0 % }");
      text += expect(answers, "heats again when it is told to",
                     "after: " + yaml_time(plan.commanded) + "\n    within: 6 s", "that",
                     {".state: running", heating});
      break;
    case Policy::go_to_preset:
      text += expect(answers, "goes to its preset in time", acts_within(answers, plan), "that",
                     {".state: preset"});
      text += expect(answers, "polling alone does not end the preset", restored_for, "always",
                     {".state: preset"});
      text += expect(answers, "a fresh setpoint ends it",
                     "after: " + yaml_time(plan.commanded) + "\n    within: 6 s", "that",
                     {".state: running", ".setpoint_active: { near: 50 %, tolerance: 0.1 % }"});
      break;
  }
  return text + expect(answers, "the alarm relay opens",
                       "after: { cut: " + line + " }\n    within: " + yaml_time(answers.timeout + kMargin),
                       "that", {".relay.K1: open"});
}

std::string_view title_of(Policy policy) {
  switch (policy) {
    case Policy::hold_last_command:
      return "Cable pulled, units hold their last command, the PLC takes over without a bump";
    case Policy::latch_to_inhibit:
      return "Cable pulled, units latch off, and are reset once comms are back";
    case Policy::go_to_preset:
      return "Cable pulled, units go to their preset and wait for a fresh setpoint";
  }
  return {};
}

}  // namespace

std::string new_scenario(const Answers& answers) {
  const auto plan = plan_of(answers);
  return "# The first rehearsal: what happens when the cable comes off, and how it is put right.\n"
         "#   emberline rehearse FILE                 with the stand-in below as the PLC\n"
         "#   emberline rehearse --real-master FILE   with yours\n"
         "scenario: " +
         std::string(title_of(answers.policy)) +
         "\nformat: 1\nwhy: A dead cable that was never rehearsed is one that surprises at the worst hour.\n"
         "bench: " +
         kNewBench + "\nends: " + yaml_time(plan.ends) + "\n" + masters(answers, plan) +
         timeline(answers, plan) + expectations(answers, plan);
}

}  // namespace emberline::cli
