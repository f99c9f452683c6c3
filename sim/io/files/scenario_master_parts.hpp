#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/io/files/fields.hpp"
#include "sim/io/files/scenario_parts.hpp"
#include "sim/rehearsal/master_spec.hpp"

namespace emberline::io {

/// Below this a program would be busy with itself instead of with the line.
inline constexpr Duration kShortestPeriod = std::chrono::milliseconds{1};
inline constexpr int kMostRetries = 100;

/// What the parts of a stand-in know of each other while it is being read.
struct MasterDraft {
  explicit MasterDraft(ScenarioDraft& of) : scenario(of) {}
  ScenarioDraft& scenario;
  rehearsal::MasterSpec spec;
  std::vector<std::string> state_names;  ///< known before any state is read
  std::vector<bool> led_to;   ///< of each state: something else leads there, or the program begins there
  bool targets_known = true;  ///< every name that is read or written was found

  /// Conditions to be held against what the program reads, once that is known.
  struct AskedReading {
    Place place;
    std::string label;  ///< "when: "
    std::string name;
    std::optional<std::size_t> state;  ///< whose program reads it; nothing: any of the stand-in
  };
  std::vector<AskedReading> asked_readings;
  struct AskedSlave {
    Place place;
    std::string key;  ///< "lost", "back", "refused"
    rehearsal::SlaveCondition condition;
  };
  std::vector<AskedSlave> asked_slaves;

  [[nodiscard]] Problems& problems() { return scenario.problems; }
};

// --- scenario_master_steps.cpp

/// Finds where a value stands on the wire, and that this stand-in can get there.
std::optional<rehearsal::Target> read_target(const Node& at, const Place& place, const std::string& name,
                                             bool for_writing, MasterDraft& draft);
/// `{ soak-heater.setpoint: 50 % }`, or the word `nothing` where that may be said.
std::vector<rehearsal::Write> read_writes(const Node* node, bool nothing_allowed, MasterDraft& draft);
/// A list of steps; `state` is whose they are, `start` when that begins as far as it is known.
std::vector<rehearsal::ProgramStep> read_program(const Node* node, std::optional<std::size_t> state,
                                                 Duration start, MasterDraft& draft);

// --- scenario_master_poll.cpp

/// `poll: FILE` as a step: one step for each read of that poll plan.
void read_poll(const Node& node, Duration start, std::vector<rehearsal::ProgramStep>& program,
               MasterDraft& draft);

// --- scenario_master_control.cpp

/// What goes with `control`, or the complaint that it does not go with anything else.
void read_control_keys(Fields& fields, const Node* control, rehearsal::ProgramStep& step, MasterDraft& draft);

// --- scenario_master_states.cpp

/// `{ soak-heater.state: inhibited, lost: cabinet }`; `state` is whose program has to read that.
rehearsal::Trigger read_trigger(const Node* node, std::optional<std::size_t> state, MasterDraft& draft);
/// The name of a state.
std::optional<std::size_t> read_state_name(const Node* node, MasterDraft& draft);
void read_states(const Node* node, const Node* starts_in, MasterDraft& draft);
void read_alarms(const Node* node, MasterDraft& draft);
/// What can be told only when everything has been read: conditions on what nobody reads, states nobody goes
/// to.
void check_states(const Node* states, MasterDraft& draft);

}  // namespace emberline::io
