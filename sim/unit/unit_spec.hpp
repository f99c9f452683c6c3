#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "sim/base/sim_time.hpp"
#include "sim/modbus/identity.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::unit {

/// How the thyristors fire: a part of every half cycle, evenly spread whole cycles, or whole cycles together
/// at the beginning of a fixed time base.
enum class FiringMode : std::uint8_t { phase_angle, burst_spread, burst };
/// True if whole cycles are passed on or held back.
constexpr bool in_bursts(FiringMode mode) { return mode != FiringMode::phase_angle; }
/// What the setpoint is a share of: the output itself, or a quantity of the load with a full scale.
enum class ControlVariable : std::uint8_t { open_loop, voltage, voltage_squared, current, power };
/// What may end the comms-loss latch: enable opened then closed, the reset terminal's closing edge, or a
/// write of 1 after 0 to the reset register.
enum class ResetBy : std::uint8_t { enable_cycle, reset_terminal, reset_register };
/// What feeds the watchdog: any frame taken up, one answered without an exception, an accepted write, or a
/// write of `heartbeat` with a value that differs from the last.
enum class Feeds : std::uint8_t { any_request, good_request, write, heartbeat };
/// From when the watchdog counts: the first feeding frame, or the end of start-up.
enum class ArmedFrom : std::uint8_t { first_request, power_up };
/// When a loss does more than warn: only while the setpoint comes from the register, or always.
enum class ActsIn : std::uint8_t { remote, always };
/// What the register's setpoint is after the latch was reset.
enum class SetpointAfterReset : std::uint8_t { zero, keep };
/// What a read beyond the intake limits gets: its answer, an exception, or an ever later answer.
enum class Beyond : std::uint8_t { accept, exception, delay };
/// When a relay's coil is energised.
enum class Coil : std::uint8_t { energised_when_healthy, energised_on_alarm };
/// The position of a relay's contact while its coil is not energised.
enum class Contact : std::uint8_t { normally_open, normally_closed };
/// The wired inputs of a unit.
enum class Terminal : std::uint8_t { enable, reset };
/// How many terminals a unit has.
inline constexpr int kTerminalCount = 2;

/// Firing as the bench file sets it.
struct FiringSpec {
  FiringMode mode = FiringMode::phase_angle;
  Duration ramp{};  ///< time from 0 to 100 %, up and down; 0 is at once
  std::optional<double>
      held_angle_deg;  ///< `angle: 68 deg`: this angle whatever the setpoint (still off by state)
  Duration base = std::chrono::seconds{1};  ///< burst: the time over which the duty is kept, whole cycles
  Duration soft_start{};  ///< whenever conduction begins, the angle comes down from 180 degrees in so long
  std::optional<double>
      first_angle_deg;  ///< bursts: the first half-wave of each begins here, for transformers
};

/// What the setpoint commands, and how much of it 100 % is.
struct ControlSpec {
  ControlVariable variable = ControlVariable::open_loop;
  double full_scale = 0.0;  ///< V, V (of voltage-squared: the voltage at 100 %), A or W; unused in open loop
  Duration response{};      ///< time constant with which the output follows what it should be; 0: at once
  double gain = 1.0;  ///< of that loop, above 0: 2 is twice as quick, and overshoots when the cycle is long
  bool supply_compensation = false;  ///< open loop: a supply off its nominal voltage is made up for
};

/// What is watched over, and what it leads to.
enum class Protection : std::uint8_t {
  supply_low,                 ///< warning; share of the nominal voltage, any phase
  supply_high,                ///< warning; share of the nominal voltage, any phase
  supply_frequency,           ///< warning; deviation from the nominal frequency, Hz
  load_open,                  ///< warning; leg current below this share of the rated, fired and supplied
  partial_load_failure,       ///< warning; conductance of a leg below this share of the learned one
  heatsink_warm,              ///< warning; degC
  over_current,               ///< trip; line current of one mains cycle, share of the rated, RMS
  overload,                   ///< trip over-current; share of what melts the fuse (I squared t)
  phase_lost,                 ///< trip; lowest voltage between lines below this share, the highest above
  fuse_open,                  ///< trip; the fuse's own signal
  heatsink_over_temperature,  ///< trip; degC
  thyristor_shorted,          ///< trip; current without command, share of the rated
};
inline constexpr std::size_t kProtectionCount = static_cast<std::size_t>(Protection::thyristor_shorted) + 1;

/// One protection as the bench file sets it.
struct ProtectionSpec {
  bool on = true;
  double threshold = 0.0;   ///< see Protection for what it is a measure of
  Duration after{};         ///< it has to last so long
  double hysteresis = 0.0;  ///< the warning goes when the value is back by more than this
  std::vector<ResetBy> reset_by{ResetBy::enable_cycle};  ///< trips: any of them, once the cause is gone
};
/// What holds where the bench file says nothing.
[[nodiscard]] std::array<ProtectionSpec, kProtectionCount> default_protections();

/// How the partial-load supervision comes to its reference.
enum class LearnOn : std::uint8_t { command, first_run };

/// Limits that hold the output back; each is off unless set.
struct LimitsSpec {
  std::optional<double> current_A;  ///< RMS, in any leg; bursts cannot hold it and trip over-current, if on
  std::optional<double> voltage_V;  ///< RMS across the element, mean of the phases
  std::optional<double> power_W;    ///< total
  bool operator==(const LimitsSpec&) const = default;
};

/// The comms-loss watchdog as the bench file sets it; watchdog.hpp says how it behaves.
struct CommsLossSpec {
  std::vector<std::string> lines;  ///< lines whose frames count; never empty after loading
  Duration timeout{};              ///< 0: no supervision
  registers::Policy policy = registers::Policy::hold_last_command;
  double preset = 0.0;                                   ///< fraction; only with go-to-preset
  std::vector<ResetBy> reset_by{ResetBy::enable_cycle};  ///< any of them resets the latch
  Feeds feeds = Feeds::any_request;
  ArmedFrom from = ArmedFrom::first_request;
  ActsIn acts_in = ActsIn::remote;
  int restored_after = 1;  ///< feeding frames after which a latched loss counts as over
  SetpointAfterReset setpoint_after_reset = SetpointAfterReset::zero;
  bool latch_survives_power = false;  ///< a power cycle of the unit does not clear the latch
};

/// One alarm relay. Its contact is a signal of the bench.
struct RelaySpec {
  std::string name;
  std::uint32_t on_warnings = 0;  ///< bits of `warnings`
  std::uint32_t on_trips = 0;     ///< bits of `trips`; either acts
  Coil coil = Coil::energised_when_healthy;
  Contact contact = Contact::normally_open;
};

/// How much a small device can digest; off unless set.
struct IntakeSpec {
  std::optional<int>
      largest_block;  ///< registers (or, for bit reads, bits in units of 16) a read may ask for
  std::optional<int> reads_per_second;  ///< reads (01 to 04, 17) in a sliding second, all masters together
  Beyond beyond = Beyond::accept;
};

/// Everything a unit is told about itself. Electrical load and wiring belong to the bench.
struct UnitSpec {
  std::string name;
  int id = 1;                      ///< 1 to 247
  std::vector<std::string> lines;  ///< that it answers on
  /// What it says it is; function codes 11 and 2B (hex).
  modbus::Identity identity = modbus::basic_identity("Emberline", "virtual-unit", "1.0");
  std::shared_ptr<const registers::RegisterTable> table;
  double rated_voltage_V = 0.0;  ///< RMS
  double rated_current_A = 0.0;  ///< RMS
  FiringSpec firing;
  ControlSpec control;
  LimitsSpec limits;
  CommsLossSpec comms_loss;
  std::vector<RelaySpec> relays;
  IntakeSpec intake;
  std::array<ProtectionSpec, kProtectionCount> protections = default_protections();
  LearnOn learn_on = LearnOn::first_run;
  std::vector<double> load_reference_S;  ///< partial load: conductance of each leg; empty: to be learned
  Duration turnaround{};  ///< from the last byte of a request until it begins to answer; t3.5 at least on
                          ///< serial lines
  Duration start_up = std::chrono::seconds{1};          ///< from power-on until it answers
  Duration averaging = std::chrono::milliseconds{200};  ///< over which the meters take their means
  std::optional<double> local_setpoint;                 ///< fraction
  std::optional<std::string> local_setpoint_signal;     ///< a signal of the bench instead
};

}  // namespace emberline::unit
