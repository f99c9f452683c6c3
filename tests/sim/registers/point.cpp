#include "sim/registers/point.hpp"

#include <set>
#include <string>

#include <doctest/doctest.h>

namespace emberline::registers {
namespace {

TEST_CASE("every point is found by its name and by its number") {
  std::set<std::string_view> names;
  CHECK(all_points().size() == kPointCount);
  for (std::size_t i = 0; i < kPointCount; ++i) {
    const auto point = static_cast<Point>(i);
    const auto& info = point_info(point);
    CAPTURE(info.name);
    CHECK(info.point == point);
    CHECK(all_points()[i].point == point);
    CHECK(find_point(info.name) == point);
    CHECK(names.insert(info.name).second);
    CHECK_FALSE(info.meaning.empty());
  }
  CHECK_FALSE(find_point("setpoints").has_value());
  CHECK_FALSE(find_point("").has_value());
  CHECK_FALSE(find_point("Setpoint").has_value());
}

TEST_CASE("points measure what their names say") {
  const struct {
    const char* name;
    Dimension dimension;
  } rows[] = {
      {"setpoint", Dimension::ratio},
      {"setpoint_local", Dimension::ratio},
      {"setpoint_active", Dimension::ratio},
      {"output", Dimension::ratio},
      {"duty", Dimension::ratio},
      {"firing_angle", Dimension::angle},
      {"load_voltage_l3", Dimension::voltage},
      {"load_current_l1", Dimension::current},
      {"load_power", Dimension::power},
      {"line_current_l2", Dimension::current},
      {"neutral_current", Dimension::current},
      {"load_resistance", Dimension::resistance},
      {"supply_voltage", Dimension::voltage},
      {"supply_frequency", Dimension::frequency},
      {"element_temperature", Dimension::temperature},
      {"heatsink_temperature", Dimension::temperature},
      {"apparent_power", Dimension::apparent_power},
      {"apparent_power_l3", Dimension::apparent_power},
      {"power_factor_l2", Dimension::number},
      {"dc_current_l1", Dimension::current},
      {"demand", Dimension::power},
      {"peak_demand", Dimension::power},
      {"load_intact", Dimension::ratio},
      {"current_limit", Dimension::current},
      {"voltage_limit", Dimension::voltage},
      {"power_limit", Dimension::power},
      {"supply_low_threshold", Dimension::ratio},
      {"supply_frequency_threshold", Dimension::frequency},
      {"heatsink_warm_threshold", Dimension::temperature},
      {"partial_load_failure_hysteresis", Dimension::ratio},
      {"learn_load", Dimension::logical},
      {"energy", Dimension::energy},
      {"run_time", Dimension::time},
      {"state", Dimension::number},
      {"warnings", Dimension::number},
      {"trips", Dimension::number},
      {"comms_age", Dimension::time},
      {"comms_timeout", Dimension::time},
      {"comms_policy", Dimension::number},
      {"comms_gap_longest", Dimension::time},
      {"setpoint_source", Dimension::number},
      {"heartbeat", Dimension::number},
      {"reset", Dimension::logical},
  };
  for (const auto& row : rows) {
    CAPTURE(row.name);
    const auto point = find_point(row.name);
    REQUIRE(point.has_value());
    CHECK(point_info(*point).dimension == row.dimension);
  }
}

TEST_CASE("a master can write commands and settings and no measured point") {
  std::set<std::string_view> writable;
  for (const auto& info : all_points())
    if (info.writable) writable.insert(info.name);
  CHECK(writable == std::set<std::string_view>{"comms_policy",
                                               "comms_timeout",
                                               "current_limit",
                                               "fuse_open_delay",
                                               "heartbeat",
                                               "heatsink_over_temperature_delay",
                                               "heatsink_over_temperature_threshold",
                                               "heatsink_warm_delay",
                                               "heatsink_warm_threshold",
                                               "learn_load",
                                               "load_open_delay",
                                               "load_open_threshold",
                                               "over_current_delay",
                                               "over_current_threshold",
                                               "overload_delay",
                                               "overload_threshold",
                                               "partial_load_failure_delay",
                                               "partial_load_failure_hysteresis",
                                               "partial_load_failure_threshold",
                                               "phase_lost_delay",
                                               "phase_lost_threshold",
                                               "power_limit",
                                               "reset",
                                               "setpoint",
                                               "setpoint_source",
                                               "supply_frequency_delay",
                                               "supply_frequency_threshold",
                                               "supply_high_delay",
                                               "supply_high_threshold",
                                               "supply_low_delay",
                                               "supply_low_threshold",
                                               "thyristor_shorted_delay",
                                               "thyristor_shorted_threshold",
                                               "voltage_limit"});
}

TEST_CASE("a delay is not a time, or a setting takes any number") {
  for (const auto& info : all_points()) {
    CAPTURE(info.name);
    if (info.name.ends_with("_delay")) CHECK(info.dimension == Dimension::time);
    if (info.name.ends_with("_delay") || info.name.ends_with("_threshold") || info.name.ends_with("_limit")) {
      REQUIRE(info.limits.has_value());
      CHECK(info.limits->first <= 0.0);
      CHECK(info.limits->second >= 100.0);
    }
  }
}

TEST_CASE("states, policies, sources and flags keep the numbers that programs rely on") {
  // These numbers are ours and stand in PLC programs: they never change.
  const auto numbered = [](std::span<const Word> words) {
    std::string text;
    for (const auto& [word, number] : words) text += std::to_string(number) + " " + std::string(word) + "; ";
    return text;
  };
  CHECK(numbered(state_words()) ==
        "0 unpowered; 1 starting; 2 stopped; 3 running; 4 holding; 5 preset; 6 inhibited; 7 tripped; ");
  CHECK(numbered(policy_words()) == "0 hold-last-command; 1 latch-to-inhibit; 2 go-to-preset; ");
  CHECK(numbered(warning_words()) ==
        "0 comms-loss; 1 supply-absent; 2 supply-low; 3 supply-high; 4 supply-frequency; 5 current-limit; "
        "6 voltage-limit; 7 power-limit; 8 load-open; 9 partial-load-failure; 10 heatsink-warm; "
        "11 request-overload; 12 sensor-fault; ");
  CHECK(numbered(trip_words()) ==
        "0 comms-loss; 1 over-current; 2 phase-lost; 3 fuse-open; 4 heatsink-over-temperature; "
        "5 thyristor-shorted; ");
  CHECK(numbered(point_info(Point::setpoint_source).values) == "0 register; 1 local; ");
  CHECK(numbered(point_info(Point::state).values) == numbered(state_words()));
  CHECK(numbered(point_info(Point::comms_policy).values) == numbered(policy_words()));
  CHECK(numbered(point_info(Point::warnings).flags) == numbered(warning_words()));
  CHECK(numbered(point_info(Point::trips).flags) == numbered(trip_words()));
  CHECK(to_word(State::inhibited) == "inhibited");
  CHECK(to_word(Policy::go_to_preset) == "go-to-preset");
  CHECK(to_word(Warning::sensor_fault) == "sensor-fault");
  CHECK(to_word(Trip::thyristor_shorted) == "thyristor-shorted");
  CHECK(bit(Warning::load_open) == 0x100);
}

}  // namespace
}  // namespace emberline::registers
