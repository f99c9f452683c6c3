#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "sim/unit/command_path.hpp"
#include "sim/unit/intake.hpp"
#include "sim/unit/partial_load.hpp"
#include "sim/unit/protections.hpp"
#include "sim/unit/reset_inputs.hpp"
#include "sim/unit/settings.hpp"
#include "sim/unit/throttle.hpp"
#include "sim/unit/trips.hpp"
#include "sim/unit/virtual_unit.hpp"
#include "sim/unit/watchdog.hpp"

namespace emberline::unit {

/// How the parts of a unit work together. Every public call that carries a time first acts on timers due
/// strictly before it, so that a late caller cannot hide an expiry; a timer due at that very instant waits
/// for run_timers(), because frames of the instant come first.
///
/// A measured cycle goes: load learned -> protections judge it -> trips and warnings -> state and output; the
/// command path corrects itself by it at the advance() that follows.
///
/// A request goes: intake limits -> register table -> points (writes are stored) -> a reset it asked for ->
/// watchdog fed -> written settings of the watchdog take effect -> state and output. So a frame that
/// completes step (1) is never itself the reset, and a feeding frame that writes a policy is no loss under
/// that policy.
class VirtualUnit::Impl {
 public:
  Impl(const UnitSpec& spec, JournalSink& journal, UnitObserver& observer);

  // unit_requests.cpp
  std::optional<modbus::Bytes> take_up(modbus::ByteView pdu, const modbus::Arrival& arrival);

  [[nodiscard]] Duration ready_after() const { return spec_.turnaround + held_back_; }

  // unit_core.cpp
  void set_terminal(Terminal terminal, bool closed, SimTime at);
  [[nodiscard]] bool terminal(Terminal terminal) const;
  void set_powered(bool on, SimTime at);
  void count_on_from(Duration run_time) { run_time_ = run_time; }
  void set_local_setpoint(double fraction, SimTime at);
  [[nodiscard]] std::optional<SimTime> next_timer() const;
  void run_timers(SimTime now);

  // unit_plant.cpp
  void advance(SimTime now, const FullConduction& full);
  void measure(SimTime now, const Measured& measured);
  [[nodiscard]] bool unsettled() const;
  /// `who` told the partial-load supervision to learn its reference anew.
  void learn_load(std::string_view who, SimTime at);
  [[nodiscard]] double value(registers::Point point, SimTime now) const;
  [[nodiscard]] std::uint32_t warnings() const;
  [[nodiscard]] std::uint32_t trips() const;

  // unit_next_steps.cpp
  [[nodiscard]] std::vector<NextStep> next_steps(SimTime now) const;

  [[nodiscard]] const Watchdog& watchdog() const { return watchdog_; }
  [[nodiscard]] std::uint64_t settings_version() const { return settings_version_; }

  const UnitSpec& spec_;
  CommandPath path_;
  registers::State state_ = registers::State::running;
  bool powered_ = true;

 private:
  class Access;  // unit_requests.cpp: the points as one request sees them

  void note(SimTime at, std::string sentence) { journal_.note(at, spec_.name, std::move(sentence)); }

  // unit_core.cpp
  void run_before(SimTime at);
  void fire(SimTime due);
  void started(SimTime at);
  void power_off(SimTime at);
  void comms_lost(SimTime at);
  /// Brings state and output in line with everything else; `reason` explains a change of state.
  /// The reason that the journal gives is both in a row, who it was by at the end.
  void refresh(SimTime at, std::string_view reason, std::string_view who = {});
  void aim(SimTime at);
  [[nodiscard]] double selected_setpoint() const;
  [[nodiscard]] bool watchdog_acts() const;

  // unit_reset.cpp
  /// A level that may be a reset: of the comms-loss latch, of trips, or of both at once.
  void reset_seen(const ResetLevel& level, SimTime at);
  /// True if it cleared the comms-loss latch.
  bool reset_comms_loss(ResetBy by, ResetInputs::Seen seen, SimTime at);
  void clear_latch(ResetBy by, SimTime at);
  /// True if it cleared a trip.
  bool reset_trips(const ResetLevel& level, SimTime at);
  void refuse_trip(Protection protection, ResetBy by, Trips::Outcome outcome, SimTime at);
  [[nodiscard]] std::string how_to_reset() const;
  [[nodiscard]] std::string frames_needed() const;

  // unit_next_steps.cpp
  void steps_of_latches(std::vector<NextStep>& steps) const;
  void steps_of_comms(std::vector<NextStep>& steps) const;

  // unit_requests.cpp
  std::optional<modbus::Bytes> carry_out(modbus::ByteView pdu, const modbus::Arrival& arrival);
  void store(registers::Point point, double value, Access& access);
  [[nodiscard]] bool feeds(const Access& access, bool refused) const;
  /// True if comms that were lost are back with this frame.
  bool feed(const modbus::Arrival& arrival);
  void apply_settings(SimTime at);
  void set_plant_setting(registers::Point point, double value, const modbus::Arrival& arrival);
  void report_writes(const Access& access);
  void note_setpoint_after_reset(const modbus::Arrival& arrival);

  // unit_supervision.cpp
  /// Acts on the mains cycle that ended now.
  void supervise(SimTime now);
  /// partial-load-failure is on. Without it nothing is learned, and the load counts as intact.
  [[nodiscard]] bool supervises_parts() const {
    return spec_.protections[static_cast<std::size_t>(Protection::partial_load_failure)].on;
  }
  void watch_load(SimTime now, const Look& look);
  void heed(SimTime now, const Protections::Event& event, const Look& look);
  void trip(SimTime now, Protection protection, bool cause_stays, const std::string& what);
  void watch_burst_current(SimTime now);
  void watch_sensor(SimTime now);
  void raise(SimTime now, registers::Warning warning, const std::string& what);
  void lower(SimTime now, registers::Warning warning, const std::string& what);
  [[nodiscard]] std::optional<SimTime> untold_due() const;
  void tell_late(SimTime now);

  // unit_plant.cpp
  [[nodiscard]] LimitsSpec limits() const;
  void count_run_time(SimTime now);
  void note_limits(SimTime now, std::uint32_t before);

  JournalSink& journal_;
  UnitObserver& observer_;
  Watchdog watchdog_;
  ResetInputs reset_inputs_;
  Intake intake_;
  Settings settings_;
  std::uint64_t settings_version_ = 0;  ///< see VirtualUnit::settings_version()
  KeptWrites kept_writes_;
  Duration held_back_{};  ///< the latest answer, by the intake limits
  registers::LastWords last_words_;
  std::vector<registers::PointAccess::Asked> asked_before_;  // of the request before; kept for its memory
  Throttle throttle_;
  Measured measured_;
  PartialLoad partial_load_;
  Protections protections_;
  Trips trips_;
  std::uint32_t warned_ = 0;   ///< bits of `warnings` that protections and sensor have raised
  std::uint32_t told_of_ = 0;  ///< those of them that the journal heard of
  /// A warning that came so soon after the last of its kind that the journal has not heard of it yet.
  struct Untold {
    SimTime since;
    std::string what;
  };
  std::map<registers::Warning, Untold> untold_;  ///< those of warned_; told when they outlast the pause
  bool after_fired_ = false;                     ///< see Look
  std::array<bool, kTerminalCount> closed_{true, false};
  std::optional<SimTime> start_up_over_;
  double local_setpoint_ = 0.0;
  std::optional<double> held_command_;  ///< while comms are lost under hold-last-command
  std::optional<SimTime> zeroed_at_;    ///< a reset set the setpoint to zero and nobody has written since
  Duration closest_call_noted_{};       ///< the longest gap the journal has heard of
  bool stuck_register_noted_ = false;   ///< the journal heard of a 1 that was there before
  mutable std::set<const registers::Row*> saturated_;  ///< rows the journal has heard of
  Duration run_time_{};
  SimTime run_time_at_{};
};

}  // namespace emberline::unit
