#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <utility>

#include "sim/base/quantity.hpp"

namespace emberline::registers {

/// Every named value of a unit. The words users write are in the catalogue (point_info).
enum class Point : std::uint8_t {
  setpoint,
  setpoint_local,
  setpoint_active,
  setpoint_source,
  output,
  firing_angle,
  duty,
  load_voltage,
  load_voltage_l1,
  load_voltage_l2,
  load_voltage_l3,
  load_current,
  load_current_l1,
  load_current_l2,
  load_current_l3,
  load_power,
  load_power_l1,
  load_power_l2,
  load_power_l3,
  line_current,
  line_current_l1,
  line_current_l2,
  line_current_l3,
  neutral_current,
  load_resistance,
  supply_voltage,
  supply_voltage_l1,
  supply_voltage_l2,
  supply_voltage_l3,
  supply_frequency,
  apparent_power,
  apparent_power_l1,
  apparent_power_l2,
  apparent_power_l3,
  power_factor,
  power_factor_l1,
  power_factor_l2,
  power_factor_l3,
  dc_current_l1,
  dc_current_l2,
  dc_current_l3,
  demand,
  peak_demand,
  element_temperature,
  heatsink_temperature,
  load_intact,
  energy,
  run_time,
  state,
  warnings,
  trips,
  comms_age,
  comms_timeout,
  comms_policy,
  comms_gap_longest,
  heartbeat,
  reset,
  current_limit,
  voltage_limit,
  power_limit,
  supply_low_threshold,
  supply_low_delay,
  supply_high_threshold,
  supply_high_delay,
  supply_frequency_threshold,
  supply_frequency_delay,
  load_open_threshold,
  load_open_delay,
  partial_load_failure_threshold,
  partial_load_failure_delay,
  partial_load_failure_hysteresis,
  learn_load,
  heatsink_warm_threshold,
  heatsink_warm_delay,
  over_current_threshold,
  over_current_delay,
  overload_threshold,
  overload_delay,
  phase_lost_threshold,
  phase_lost_delay,
  fuse_open_delay,
  heatsink_over_temperature_threshold,
  heatsink_over_temperature_delay,
  thyristor_shorted_threshold,
  thyristor_shorted_delay,
};
inline constexpr std::size_t kPointCount = static_cast<std::size_t>(Point::thyristor_shorted_delay) + 1;

/// A word for a number a point can carry, or for a bit of a bit field.
using Word = std::pair<std::string_view, int>;

/// What is fixed about a point, whatever unit and table it is in.
struct PointInfo {
  Point point;
  std::string_view name;  ///< the word users write: "load_current_l1"
  Dimension dimension;
  bool writable;  ///< a master may write it: setpoint, setpoint_source, heartbeat, reset, learn_load and the
                  ///< settings of watchdog, limits and protections
  std::span<const Word> values;  ///< names of numbers, for state, setpoint_source and comms_policy
  std::span<const Word> flags;   ///< names of bits, for warnings and trips
  std::string_view meaning;      ///< one line for listings
  std::optional<std::pair<double, double>> limits{};  ///< lowest and highest value a write may set, SI
                                                      ///< (values: of our numbers); none: any number
};

/// The catalogue entry of a point.
[[nodiscard]] const PointInfo& point_info(Point point);
/// The point with this name.
[[nodiscard]] std::optional<Point> find_point(std::string_view name);
/// All points in the order of the enumeration.
[[nodiscard]] std::span<const PointInfo> all_points();

/// States of the output, with their numbers as carried in registers.
enum class State : std::uint8_t {
  unpowered,
  starting,
  stopped,
  running,
  holding,
  preset,
  inhibited,
  tripped
};
/// Comms-loss policies, with their numbers.
enum class Policy : std::uint8_t { hold_last_command, latch_to_inhibit, go_to_preset };
/// Bits of the point `warnings`. Never renumbered.
enum class Warning : std::uint8_t {
  comms_loss,
  supply_absent,
  supply_low,
  supply_high,
  supply_frequency,
  current_limit,
  voltage_limit,
  power_limit,
  load_open,
  partial_load_failure,
  heatsink_warm,
  request_overload,
  sensor_fault,
};
/// Bits of the point `trips`. Never renumbered.
enum class Trip : std::uint8_t {
  comms_loss,
  over_current,
  phase_lost,
  fuse_open,
  heatsink_over_temperature,
  thyristor_shorted,
};
/// A warning or a trip as the bit it has in its point.
template <class Flag>
constexpr std::uint32_t bit(Flag flag) {
  return 1u << static_cast<unsigned>(flag);
}

[[nodiscard]] std::string_view to_word(State state);      ///< "inhibited"
[[nodiscard]] std::string_view to_word(Policy policy);    ///< "latch-to-inhibit"
[[nodiscard]] std::string_view to_word(Warning warning);  ///< "comms-loss"
[[nodiscard]] std::string_view to_word(Trip trip);        ///< "over-current"
/// All words of a kind with their numbers (states, policies) or bits (warnings, trips).
[[nodiscard]] std::span<const Word> state_words();
[[nodiscard]] std::span<const Word> policy_words();
[[nodiscard]] std::span<const Word> warning_words();
[[nodiscard]] std::span<const Word> trip_words();

}  // namespace emberline::registers
