#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/journal_sink.hpp"
#include "sim/modbus/slave.hpp"
#include "sim/registers/point.hpp"
#include "sim/unit/next_steps.hpp"
#include "sim/unit/unit_spec.hpp"
#include "sim/unit/watchdog.hpp"

namespace emberline::unit {

/// What the unit does to its power stage, until it says otherwise.
struct Drive {
  double output = 0.0;                   ///< share of full-conduction power, 0 to 1
  std::optional<double> held_angle_deg;  ///< a fixed firing angle instead
  bool operator==(const Drive&) const = default;
};

/// What the load would take at full conduction now, from the bench's network at the last grid instant. The
/// command path turns a demanded voltage, current or power into `output` with it. All zero: no supply or open
/// load.
struct FullConduction {
  double voltage_V = 0.0;   ///< RMS across the element, mean of the phases
  double current_A = 0.0;   ///< RMS, mean of the phases
  double power_W = 0.0;     ///< total
  double held_share = 0.0;  ///< with a held angle: its share of full-conduction power, by the law of the load
  double highest_A = 0.0;   ///< RMS, of the leg that takes most; 0: all legs take the mean
};

/// What the last whole mains cycle was like: what protections and the control loop act on. Indices as in
/// Measured; lines by supply line.
struct CycleSeen {
  std::array<double, 3> load_V{};     ///< RMS across the legs
  std::array<double, 3> load_A{};     ///< RMS through the legs
  double power_W = 0.0;               ///< total of the load
  std::array<double, 3> line_A{};     ///< RMS in the lines
  std::array<double, 3> peak_A{};     ///< largest in the lines
  std::array<double, 3> supply_V{};   ///< RMS line-neutral in front of the contactor (single-phase: [0])
  double nominal_supply_V = 0.0;      ///< what those should be
  std::array<double, 3> between_V{};  ///< RMS between lines l1-l2, l2-l3, l3-l1 in front of the contactor; of
                                      ///< three-phase units, else 0
  double nominal_between_V = 0.0;     ///< what those should be; 0: a single-phase unit
  double frequency_Hz = 0.0;          ///< of the supply; 0 when there is none
  double nominal_frequency_Hz = 0.0;
  double output = 0.0;         ///< Drive::output it was fired by
  bool fired = false;          ///< the gates were on in this cycle, at whatever angle
  bool fired_fully = false;    ///< from the beginning to the end of every half-wave
  bool soft_starting = false;  ///< a soft start holds the angle back, or inductances have not settled: the
                               ///< control loop has to wait
  std::array<bool, 3> used{true, false, false};  ///< lines the unit has
  std::array<bool, 3> fuse_open{};
  std::array<double, 3> fuse_heat{};  ///< share of what melts it
  bool sensor_fault = false;          ///< the sensor of the zone it heats is broken
};

/// Measured values as a meter would show them: true RMS over the averaging time, of the last grid instant.
/// Index 0 to 2 is L1 to L3 (delta: L12, L23, L31). Single-phase units use index 0 only; the others are 0.
struct Measured {
  std::array<double, 3> load_voltage_V{};
  std::array<double, 3> load_current_A{};
  std::array<double, 3> load_power_W{};
  std::array<double, 3> line_current_A{};
  double neutral_current_A = 0.0;
  std::array<double, 3> supply_voltage_V{};  ///< line-neutral (single-phase: across the load's supply)
  double supply_frequency_Hz = 0.0;
  double element_temperature_degC = 0.0;
  double firing_angle_deg = 180.0;
  double heatsink_degC = 25.0;                ///< NaN: there is none, or it has no value
  std::array<double, 3> apparent_power_VA{};  ///< by line: RMS voltage times RMS current
  std::array<double, 3> line_power_W{};       ///< by line: mean of voltage times current
  std::array<double, 3> dc_current_A{};       ///< mean of the line currents
  double demand_W = 0.0;                      ///< mean power over the last whole demand interval
  double peak_demand_W = 0.0;                 ///< the largest of the demand intervals so far
  double energy_J = 0.0;                      ///< counted by the bench since the start
  bool supply_present = true;  ///< contactor closed and supply there: otherwise the warning supply-absent
  int phases = 1;              ///< 1 or 3: over how many the bare points are taken
  CycleSeen cycle;
};

/// A write that reached a point, seen from outside: what verdicts and hints are made from.
struct WriteSeen {
  SimTime at;
  std::string_view unit;
  registers::Point point;
  double asked;   ///< the value as asked for, SI, before any clamping
  bool accepted;  ///< false: refused with an exception or ignored
  std::string_view master;
  std::string_view line;
};

/// Hears what a unit does besides its journal.
class UnitObserver {
 public:
  virtual ~UnitObserver() = default;
  virtual void write_seen(const WriteSeen& write) = 0;
};

/// Registers, command path, states, watchdog, relays and intake limits of one power controller. Time is an
/// argument; times never go back. Does no I/O, moves no
/// physics: what it drives and what it measures goes through Drive and Measured.
class VirtualUnit final : public modbus::Slave {
 public:
  /// `spec` must outlive the unit. Starts powered, with its start-up over, terminals enable closed and reset
  /// open.
  VirtualUnit(const UnitSpec& spec, JournalSink& journal, UnitObserver& observer);
  ~VirtualUnit() override;
  /// What its counter of run time showed at the end of an earlier run. Comes before anything else.
  void count_on_from(Duration run_time);

  // --- the master's side
  std::optional<modbus::Bytes> take_up(modbus::ByteView pdu, const modbus::Arrival& arrival) override;
  [[nodiscard]] Duration ready_after() const override;

  // --- wiring and operator
  void set_terminal(Terminal terminal, bool closed, SimTime at);
  [[nodiscard]] bool terminal(Terminal terminal) const;
  void set_powered(bool on, SimTime at);  ///< control supply of the unit
  void set_local_setpoint(double fraction, SimTime at);
  /// The operator lets the partial-load supervision learn its reference anew; a note if that is off.
  void learn_load(SimTime at);
  /// The contact of relay number `index` of the spec: true = closed.
  [[nodiscard]] bool relay_closed(std::size_t index) const;

  // --- time
  /// The next instant at which something happens by itself (watchdog, end of start-up); nothing if never.
  [[nodiscard]] std::optional<SimTime> next_timer() const;
  /// Acts on every timer that is due at or before `now`, each at its exact time.
  void run_timers(SimTime now);

  // --- the plant's side, called by the bench at grid instants (advance also after anything that may change
  // the output)
  /// Takes in what the load could take and moves ramp, limits and output on to `now`.
  void advance(SimTime now, const FullConduction& full);
  /// Stores the measured values that registers show from now on.
  void measure(SimTime now, const Measured& measured);
  [[nodiscard]] Drive drive() const;
  /// True while the ramp has not arrived.
  [[nodiscard]] bool ramping() const;
  /// True while the output moves by itself, a delay of a protection runs or the load is being learned: the
  /// grid has to stay fine, one mains cycle a step.
  [[nodiscard]] bool unsettled() const;

  // --- looking in
  [[nodiscard]] const UnitSpec& spec() const;
  /// Any point, SI. `now` is for the ages and counters that move by themselves; reading changes nothing.
  [[nodiscard]] double value(registers::Point point, SimTime now) const;
  [[nodiscard]] registers::State state() const;
  /// What has to happen, in this order, until the output follows its command again; empty: nothing stands in
  /// the way.
  [[nodiscard]] std::vector<NextStep> next_steps(SimTime now) const;
  [[nodiscard]] const Watchdog& watchdog() const;
  /// Goes up with each write that leaves a setting other than it was, the heartbeat apart, and with each
  /// reset that clears something. Programs write the same setpoint over and over: what is the same moves
  /// nothing.
  [[nodiscard]] std::uint64_t settings_version() const;

 private:
  class Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace emberline::unit
