#pragma once

#include <array>
#include <deque>
#include <map>
#include <optional>

#include "sim/base/sim_time.hpp"
#include "sim/modbus/pdu.hpp"
#include "sim/registers/point.hpp"
#include "sim/registers/register_table.hpp"
#include "sim/unit/unit_spec.hpp"

namespace emberline::unit {

/// What masters can write, apart from the reset.
struct Settings {
  double setpoint = 0.0;  ///< fraction
  bool local = false;     ///< setpoint_source
  Duration comms_timeout{};
  registers::Policy comms_policy = registers::Policy::hold_last_command;
  double heartbeat = 0.0;
  bool heartbeat_written = false;  ///< since the unit has power: the first write of all counts as a new value
  double current_limit_A = 0.0;    ///< this and the next two: 0 is off
  double voltage_limit_V = 0.0;
  double power_limit_W = 0.0;
  std::array<double, kProtectionCount> threshold{};  ///< see Protection for what it is a measure of
  std::array<double, kProtectionCount> delay_s{};
  double partial_load_hysteresis = 0.0;  ///< ratio
  bool learn_load = false;               ///< the level of the register whose edge lets the unit learn
};

/// The value of a limit or of a setting of a protection; nothing for other points. Writing to it is all there
/// is to such a setting.
[[nodiscard]] double* plant_setting(Settings& settings, registers::Point point);
[[nodiscard]] std::optional<double> plant_setting(const Settings& settings, registers::Point point);

/// The settings of a unit that was never written to.
[[nodiscard]] Settings initial_settings(const UnitSpec& spec);
/// What is left of them after a power cycle: points that the register table keeps stay, the others are as
/// initially. The heartbeat's first write counts anew either way.
[[nodiscard]] Settings after_power_cycle(const Settings& settings, const UnitSpec& spec);

/// Whether a unit takes this value for a point, beside what the register's own range says: setpoint 0 to
/// 100 %, comms_timeout 0 to 1,000,000 s, source and policy one of their numbers, reset and learn_load 0 or
/// 1, heartbeat any finite number, limits and what protections are set to within what the catalogue of points
/// says (03 otherwise); every other point is read-only (02).
[[nodiscard]] Result<Done, modbus::Refusal> may_write(registers::Point point, double value);

/// Notices programs that write non-volatile registers cyclically: such memory wears out.
class KeptWrites {
 public:
  static constexpr std::size_t kTooMany = 20;  ///< more than so many ...
  static constexpr Duration kWithin = std::chrono::minutes{10};
  /// A kept point was written. True once per point, when there were too many writes in the time.
  [[nodiscard]] bool written(registers::Point point, SimTime at);

 private:
  struct History {
    std::deque<SimTime> times;
    bool told = false;
  };
  std::map<registers::Point, History> histories_;  ///< of those that were written
};

}  // namespace emberline::unit
