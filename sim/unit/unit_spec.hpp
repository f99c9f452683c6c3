#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "sim/base/sim_time.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::unit {

enum class FiringMode : std::uint8_t { phase_angle, burst_spread };
enum class ControlVariable : std::uint8_t { open_loop, voltage, voltage_squared, current, power };
enum class ResetBy : std::uint8_t { enable_cycle, reset_terminal, reset_register };
enum class Feeds : std::uint8_t { any_request, good_request, write, heartbeat };
enum class ArmedFrom : std::uint8_t { first_request, power_up };
enum class ActsIn : std::uint8_t { remote, always };
enum class SetpointAfterReset : std::uint8_t { zero, keep };
enum class Beyond : std::uint8_t { accept, exception, delay };
enum class Coil : std::uint8_t { energised_when_healthy, energised_on_alarm };
enum class Contact : std::uint8_t { normally_open, normally_closed };
enum class Terminal : std::uint8_t { enable, reset };
inline constexpr int kTerminalCount = 2;

struct FiringSpec {
  FiringMode mode = FiringMode::phase_angle;
  Duration ramp{};  ///< time from 0 to 100 %, up and down; 0 is at once
  std::optional<double>
      held_angle_deg;  ///< `angle: 68 deg`: this angle whatever the setpoint (still off by state)
};

struct ControlSpec {
  ControlVariable variable = ControlVariable::open_loop;
  double full_scale = 0.0;  ///< V, V (of voltage-squared: the voltage at 100 %), A or W; unused in open loop
};

struct LimitsSpec {
  std::optional<double> current_A;  ///< RMS, mean of the phases
  std::optional<double> voltage_V;
  std::optional<double> power_W;
};

/// The comms-loss watchdog as the bench file sets it; design of its behaviour: watchdog.hpp.
struct CommsLossSpec {
  std::vector<std::string> lines;  ///< lines whose frames count; never empty after loading
  Duration timeout{};              ///< 0: no supervision
  registers::Policy policy = registers::Policy::hold_last_command;
  double preset = 0.0;  ///< fraction; only with go-to-preset
  std::vector<ResetBy> reset_by{ResetBy::enable_cycle};
  Feeds feeds = Feeds::any_request;
  ArmedFrom from = ArmedFrom::first_request;
  ActsIn acts_in = ActsIn::remote;
  int restored_after = 1;
  SetpointAfterReset setpoint_after_reset = SetpointAfterReset::zero;
  bool latch_survives_power = false;
};

struct RelaySpec {
  std::string name;
  std::uint32_t on_warnings = 0;  ///< bits of `warnings`
  std::uint32_t on_trips = 0;     ///< bits of `trips`; either acts
  Coil coil = Coil::energised_when_healthy;
  Contact contact = Contact::normally_open;
};

struct IntakeSpec {
  std::optional<int>
      largest_block;  ///< registers (or, for bit reads, bits in units of 16) a read may ask for
  std::optional<int> reads_per_second;  ///< reads (01 to 04) in a sliding second, all masters together
  Beyond beyond = Beyond::accept;
};

/// Everything a unit is told about itself. Electrical load and wiring belong to the bench.
struct UnitSpec {
  std::string name;
  int id = 1;  ///< 1 to 247
  std::vector<std::string> lines;
  std::shared_ptr<const registers::RegisterTable> table;
  double rated_voltage_V = 0.0;
  double rated_current_A = 0.0;
  FiringSpec firing;
  ControlSpec control;
  LimitsSpec limits;
  CommsLossSpec comms_loss;
  std::vector<RelaySpec> relays;
  IntakeSpec intake;
  Duration start_up = std::chrono::seconds{1};
  Duration averaging = std::chrono::milliseconds{200};
  std::optional<double> local_setpoint;              ///< fraction
  std::optional<std::string> local_setpoint_signal;  ///< a signal of the bench instead
};

}  // namespace emberline::unit
