#include "sim/registers/point.hpp"

#include <cassert>

namespace emberline::registers {
namespace {

constexpr Word kStates[] = {{"unpowered", 0}, {"starting", 1}, {"stopped", 2},   {"running", 3},
                            {"holding", 4},   {"preset", 5},   {"inhibited", 6}, {"tripped", 7}};
constexpr Word kPolicies[] = {{"hold-last-command", 0}, {"latch-to-inhibit", 1}, {"go-to-preset", 2}};
constexpr Word kSources[] = {{"register", 0}, {"local", 1}};
constexpr Word kWarnings[] = {{"comms-loss", 0},           {"supply-absent", 1},    {"supply-low", 2},
                              {"supply-high", 3},          {"supply-frequency", 4}, {"current-limit", 5},
                              {"voltage-limit", 6},        {"power-limit", 7},      {"load-open", 8},
                              {"partial-load-failure", 9}, {"heatsink-warm", 10},   {"request-overload", 11},
                              {"sensor-fault", 12}};
constexpr Word kTrips[] = {{"comms-loss", 0},
                           {"over-current", 1},
                           {"phase-lost", 2},
                           {"fuse-open", 3},
                           {"heatsink-over-temperature", 4},
                           {"thyristor-shorted", 5}};

constexpr bool kWritable = true;

constexpr PointInfo monitor(Point point, std::string_view name, Dimension dimension,
                            std::string_view meaning) {
  return {point, name, dimension, !kWritable, {}, {}, meaning};
}
constexpr PointInfo setting(Point point, std::string_view name, Dimension dimension, std::string_view meaning,
                            std::optional<std::pair<double, double>> limits = std::nullopt) {
  return {point, name, dimension, kWritable, {}, {}, meaning, limits};
}
/// A setting that takes one of these words, whose numbers go up from 0.
constexpr PointInfo choice(Point point, std::string_view name, std::span<const Word> values,
                           std::string_view meaning) {
  return {point,  name, Dimension::number, kWritable,
          values, {},   meaning,           std::pair{0.0, static_cast<double>(values.size()) - 1.0}};
}
constexpr std::pair<double, double> kWhole{0.0, 1.0};  // of full scale
constexpr std::pair<double, double> kOffOrOn{0.0, 1.0};
constexpr std::pair<double, double> kAnyTimeout_s{0.0, 1.0e6};  // over eleven days
constexpr std::pair<double, double> kAnyLimit{0.0, 1.0e9};
constexpr std::pair<double, double> kAnyShare{0.0, 100.0};  // of rated, nominal or learned values
constexpr std::pair<double, double> kAnyDeviation_Hz{0.0, 1000.0};
constexpr std::pair<double, double> kAnyHeatSink_degC{-50.0, 1000.0};

using enum Dimension;

/// How long what a protection watches for has to last.
constexpr PointInfo delay(Point point, std::string_view name, std::string_view meaning) {
  return setting(point, name, time, meaning, kAnyTimeout_s);
}

constexpr std::array<PointInfo, kPointCount> kPoints = {{
    setting(Point::setpoint, "setpoint", ratio, "what the masters ask for, as a share of full scale", kWhole),
    monitor(Point::setpoint_local, "setpoint_local", ratio, "what counts while setpoint_source is local"),
    monitor(Point::setpoint_active, "setpoint_active", ratio,
            "the setpoint that counts now, before the ramp"),
    choice(Point::setpoint_source, "setpoint_source", kSources, "where the setpoint comes from"),
    monitor(Point::output, "output", ratio, "share of the power of full conduction"),
    monitor(Point::firing_angle, "firing_angle", angle, "delay of firing from the zero of the voltage"),
    monitor(Point::duty, "duty", ratio, "share of mains cycles that conduct"),
    monitor(Point::load_voltage, "load_voltage", voltage, "RMS across the load, mean of the phases"),
    monitor(Point::load_voltage_l1, "load_voltage_l1", voltage, "RMS across the load, phase 1"),
    monitor(Point::load_voltage_l2, "load_voltage_l2", voltage, "RMS across the load, phase 2"),
    monitor(Point::load_voltage_l3, "load_voltage_l3", voltage, "RMS across the load, phase 3"),
    monitor(Point::load_current, "load_current", current, "RMS through the load, mean of the phases"),
    monitor(Point::load_current_l1, "load_current_l1", current, "RMS through the load, phase 1"),
    monitor(Point::load_current_l2, "load_current_l2", current, "RMS through the load, phase 2"),
    monitor(Point::load_current_l3, "load_current_l3", current, "RMS through the load, phase 3"),
    monitor(Point::load_power, "load_power", power, "mean power of the load, total"),
    monitor(Point::load_power_l1, "load_power_l1", power, "mean power of the load, phase 1"),
    monitor(Point::load_power_l2, "load_power_l2", power, "mean power of the load, phase 2"),
    monitor(Point::load_power_l3, "load_power_l3", power, "mean power of the load, phase 3"),
    monitor(Point::line_current, "line_current", current, "RMS in the lines, mean of the phases"),
    monitor(Point::line_current_l1, "line_current_l1", current, "RMS in line 1"),
    monitor(Point::line_current_l2, "line_current_l2", current, "RMS in line 2"),
    monitor(Point::line_current_l3, "line_current_l3", current, "RMS in line 3"),
    monitor(Point::neutral_current, "neutral_current", current, "RMS in the neutral"),
    monitor(Point::load_resistance, "load_resistance", resistance, "resistance of the load as it is now"),
    monitor(Point::supply_voltage, "supply_voltage", voltage, "RMS at the unit, mean of the phases"),
    monitor(Point::supply_voltage_l1, "supply_voltage_l1", voltage, "RMS at the unit, phase 1"),
    monitor(Point::supply_voltage_l2, "supply_voltage_l2", voltage, "RMS at the unit, phase 2"),
    monitor(Point::supply_voltage_l3, "supply_voltage_l3", voltage, "RMS at the unit, phase 3"),
    monitor(Point::supply_frequency, "supply_frequency", frequency, "frequency of the supply"),
    monitor(Point::apparent_power, "apparent_power", apparent_power, "sum of the phases"),
    monitor(Point::apparent_power_l1, "apparent_power_l1", apparent_power,
            "RMS voltage times RMS current, line 1"),
    monitor(Point::apparent_power_l2, "apparent_power_l2", apparent_power,
            "RMS voltage times RMS current, line 2"),
    monitor(Point::apparent_power_l3, "apparent_power_l3", apparent_power,
            "RMS voltage times RMS current, line 3"),
    monitor(Point::power_factor, "power_factor", number,
            "active over apparent power, total; 0 without current"),
    monitor(Point::power_factor_l1, "power_factor_l1", number, "active over apparent power, line 1"),
    monitor(Point::power_factor_l2, "power_factor_l2", number, "active over apparent power, line 2"),
    monitor(Point::power_factor_l3, "power_factor_l3", number, "active over apparent power, line 3"),
    monitor(Point::dc_current_l1, "dc_current_l1", current,
            "mean of the current in line 1: half-waves differ"),
    monitor(Point::dc_current_l2, "dc_current_l2", current,
            "mean of the current in line 2: half-waves differ"),
    monitor(Point::dc_current_l3, "dc_current_l3", current,
            "mean of the current in line 3: half-waves differ"),
    monitor(Point::demand, "demand", power, "mean power over the last whole demand interval"),
    monitor(Point::peak_demand, "peak_demand", power, "the largest demand so far"),
    monitor(Point::element_temperature, "element_temperature", temperature, "temperature of the element"),
    monitor(Point::heatsink_temperature, "heatsink_temperature", temperature, "temperature of the heat sink"),
    monitor(Point::load_intact, "load_intact", ratio, "conductance of the worst leg, of the one learned"),
    monitor(Point::energy, "energy", Dimension::energy, "energy given to the load"),
    monitor(Point::run_time, "run_time", time, "how long the output has been on"),
    {Point::state, "state", number, !kWritable, kStates, {}, "state of the output"},
    {Point::warnings, "warnings", number, !kWritable, {}, kWarnings, "bits of what is out of the ordinary"},
    {Point::trips, "trips", number, !kWritable, {}, kTrips, "bits of what has switched the output off"},
    monitor(Point::comms_age, "comms_age", time, "time since the last frame that fed the watchdog"),
    setting(Point::comms_timeout, "comms_timeout", time, "silence after which comms are lost; 0 never",
            kAnyTimeout_s),
    choice(Point::comms_policy, "comms_policy", kPolicies, "what the unit does on comms loss"),
    monitor(Point::comms_gap_longest, "comms_gap_longest", time, "longest silence seen so far"),
    setting(Point::heartbeat, "heartbeat", number, "a number the master keeps changing"),
    setting(Point::reset, "reset", logical, "a change from 0 to 1 resets latches, where allowed", kOffOrOn),
    setting(Point::current_limit, "current_limit", current,
            "load current that is not exceeded, or trips in bursts; 0 none", kAnyLimit),
    setting(Point::voltage_limit, "voltage_limit", voltage, "load voltage that is not exceeded; 0 none",
            kAnyLimit),
    setting(Point::power_limit, "power_limit", power, "load power that is not exceeded; 0 none", kAnyLimit),
    setting(Point::supply_low_threshold, "supply_low_threshold", ratio,
            "supply-low below this share of the nominal voltage", kAnyShare),
    delay(Point::supply_low_delay, "supply_low_delay", "how long before supply-low"),
    setting(Point::supply_high_threshold, "supply_high_threshold", ratio,
            "supply-high above this share of the nominal voltage", kAnyShare),
    delay(Point::supply_high_delay, "supply_high_delay", "how long before supply-high"),
    setting(Point::supply_frequency_threshold, "supply_frequency_threshold", frequency,
            "supply-frequency when further off the nominal one", kAnyDeviation_Hz),
    delay(Point::supply_frequency_delay, "supply_frequency_delay", "how long before supply-frequency"),
    setting(Point::load_open_threshold, "load_open_threshold", ratio,
            "load-open below this share of the rated current", kAnyShare),
    delay(Point::load_open_delay, "load_open_delay", "how long before load-open"),
    setting(Point::partial_load_failure_threshold, "partial_load_failure_threshold", ratio,
            "partial-load-failure when load_intact is below", kAnyShare),
    delay(Point::partial_load_failure_delay, "partial_load_failure_delay",
          "how long before partial-load-failure"),
    setting(Point::partial_load_failure_hysteresis, "partial_load_failure_hysteresis", ratio,
            "how much above the threshold partial-load-failure goes", kAnyShare),
    setting(Point::learn_load, "learn_load", logical,
            "a change from 0 to 1 lets the unit learn its load anew", kOffOrOn),
    setting(Point::heatsink_warm_threshold, "heatsink_warm_threshold", temperature, "heatsink-warm above",
            kAnyHeatSink_degC),
    delay(Point::heatsink_warm_delay, "heatsink_warm_delay", "how long before heatsink-warm"),
    setting(Point::over_current_threshold, "over_current_threshold", ratio,
            "over-current above this share of the rated current", kAnyShare),
    delay(Point::over_current_delay, "over_current_delay", "how long before over-current"),
    setting(Point::overload_threshold, "overload_threshold", ratio,
            "over-current above this share of what melts the fuse", kAnyShare),
    delay(Point::overload_delay, "overload_delay", "how long before over-current by what the fuse has taken"),
    setting(Point::phase_lost_threshold, "phase_lost_threshold", ratio,
            "phase-lost when the lowest voltage between lines is below this share of nominal", kAnyShare),
    delay(Point::phase_lost_delay, "phase_lost_delay", "how long before phase-lost"),
    delay(Point::fuse_open_delay, "fuse_open_delay", "how long before fuse-open"),
    setting(Point::heatsink_over_temperature_threshold, "heatsink_over_temperature_threshold", temperature,
            "heatsink-over-temperature above", kAnyHeatSink_degC),
    delay(Point::heatsink_over_temperature_delay, "heatsink_over_temperature_delay",
          "how long before heatsink-over-temperature"),
    setting(Point::thyristor_shorted_threshold, "thyristor_shorted_threshold", ratio,
            "thyristor-shorted above this share of the rated current while off", kAnyShare),
    delay(Point::thyristor_shorted_delay, "thyristor_shorted_delay", "how long before thyristor-shorted"),
}};

/// True if every entry stands at the index of its point.
constexpr bool in_order() {
  for (std::size_t i = 0; i < kPoints.size(); ++i)
    if (static_cast<std::size_t>(kPoints[i].point) != i) return false;
  return true;
}
static_assert(in_order());

template <class Enum>
std::string_view word_of(std::span<const Word> words, Enum value) {
  const auto index = static_cast<std::size_t>(value);
  assert(index < words.size() && words[index].second == static_cast<int>(value));
  return words[index].first;
}

}  // namespace

const PointInfo& point_info(Point point) {
  const auto index = static_cast<std::size_t>(point);
  assert(index < kPointCount);
  return kPoints[index];
}

std::optional<Point> find_point(std::string_view name) {
  for (const auto& info : kPoints)
    if (info.name == name) return info.point;
  return std::nullopt;
}

std::span<const PointInfo> all_points() { return kPoints; }

std::string_view to_word(State state) { return word_of(kStates, state); }
std::string_view to_word(Policy policy) { return word_of(kPolicies, policy); }
std::string_view to_word(Warning warning) { return word_of(kWarnings, warning); }
std::string_view to_word(Trip trip) { return word_of(kTrips, trip); }
std::span<const Word> state_words() { return kStates; }
std::span<const Word> policy_words() { return kPolicies; }
std::span<const Word> warning_words() { return kWarnings; }
std::span<const Word> trip_words() { return kTrips; }

}  // namespace emberline::registers
