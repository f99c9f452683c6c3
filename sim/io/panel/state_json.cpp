#include "sim/io/panel/state_json.hpp"

#include <algorithm>
#include <utility>

#include "sim/io/panel/json_bits.hpp"
#include "sim/io/panel/unit_words.hpp"

namespace emberline::io {
namespace {

using registers::Point;

constexpr std::size_t kPhases = 3;

void put(JsonText& json, std::string_view key, double value) { json.key(key).number(tidy(value)); }

void put_time(JsonText& json, std::string_view key, std::optional<Duration> time) {
  json.key(key);
  if (time)
    json.number(tidy(to_seconds(*time)));
  else
    json.null();
}

/// With all its digits: seven would tell instants apart for some hours only.
void put_instant(JsonText& json, std::string_view key, std::optional<SimTime> at) {
  json.key(key);
  if (at)
    json.time(*at);
  else
    json.null();
}

void put_word(JsonText& json, std::string_view key, const bench::SignalInfo& info, double value) {
  json.key(key).text(bench::describe_value(info, value));
}

std::vector<double> values_at(const Snapshot& snapshot, const std::vector<std::size_t>& places) {
  std::vector<double> values;
  values.reserve(places.size());
  for (const auto place : places) values.push_back(snapshot.values[place]);
  return values;
}

void put_supply(JsonText& json, const StateParts& parts) {
  const BenchFacts& facts = parts.facts;
  const Snapshot& snapshot = parts.snapshot;
  json.key("supply").object();
  // Of a three-phase supply the voltages below are line-neutral, and so is this.
  const auto& supply = facts.spec.supply;
  constexpr double kSqrt3 = 1.7320508075688772;
  put(json, "nominal",
      supply.system == plant::System::three_phase ? supply.voltage_V / kSqrt3 : supply.voltage_V);
  put(json, "frequency", snapshot.values[facts.supply_frequency]);
  put_numbers(json, "voltages", values_at(snapshot, facts.supply_voltages));
  put_numbers(json, "currents", values_at(snapshot, facts.supply_currents));
  put(json, "power", snapshot.values[facts.supply_power]);
  put(json, "neutral_current", snapshot.values[facts.supply_neutral]);
  json.end_object();
}

std::string asked_name(const BenchFacts& facts, std::size_t line, int unit_id) {
  if (unit_id == 0 && bench::carries_rtu(facts.spec.lines[line].kind)) return "everybody";
  const auto slave = facts.spec.slave_on(line, unit_id);
  return slave ? std::string(slave->name) : "id " + std::to_string(unit_id) + ", which nobody has";
}

void put_lines(JsonText& json, const StateParts& parts) {
  const BenchFacts& facts = parts.facts;
  const Snapshot& snapshot = parts.snapshot;
  json.key("lines").array();
  for (std::size_t l = 0; l < facts.spec.lines.size(); ++l) {
    const auto busy = parts.traffic.busy(l, snapshot.at);
    const auto place = facts.line_states[l];
    json.object().key("name").text(facts.spec.lines[l].name);
    if (parts.hidden)
      json.key("state").null();
    else
      put_word(json, "state", facts.info(place), snapshot.values[place]);
    json.key("requests").whole(busy.requests).key("broken").whole(busy.broken);
    put(json, "per_second", busy.per_second);
    json.key("time_share");
    if (busy.time_share)
      json.number(tidy(*busy.time_share));
    else
      json.null();
    put_time(json, "last_request_age", busy.last_request_age);
    json.key("masters").array();
    for (const auto& asker : busy.askers) {
      json.object().key("name").text(asker.master);
      json.key("slave").text(asked_name(facts, l, asker.unit_id));
      put(json, "per_second", asker.per_second);
      json.end_object();
    }
    json.end_array().end_object();
  }
  json.end_array();
}

/// The words of the bits that are set, as a list.
void put_flags(JsonText& json, std::string_view key, std::span<const registers::Word> words, double value) {
  const auto bits = static_cast<std::uint32_t>(value);
  json.key(key).array();
  for (const auto& [word, bit] : words)
    if ((bits >> static_cast<unsigned>(bit) & 1U) != 0) json.text(word);
  json.end_array();
}

void put_watchdog(JsonText& json, const Snapshot& snapshot, const Snapshot::Unit& seen) {
  json.key("watchdog").object();
  json.key("supervised").flag(seen.watchdog.timeout > Duration{});
  json.key("armed").flag(seen.armed).key("lost").flag(seen.lost).key("latched").flag(seen.latched);
  json.key("policy").text(to_word(seen.watchdog.policy));
  put_time(json, "timeout", seen.watchdog.timeout);
  put_time(json, "age", seen.age);
  std::optional<Duration> left;
  if (seen.due) left = std::max(Duration{}, *seen.due - snapshot.at);
  put_time(json, "left", left);
  put_time(json, "longest_gap", seen.longest_gap);
  json.end_object();
}

void put_command(JsonText& json, const StateParts& parts, std::size_t u) {
  const BenchFacts& facts = parts.facts;
  const Snapshot& snapshot = parts.snapshot;
  const auto value = [&](Point point) { return snapshot.point(facts, u, point); };
  json.key("setpoint").object();
  put(json, "register", value(Point::setpoint));
  put(json, "local", value(Point::setpoint_local));
  put(json, "active", value(Point::setpoint_active));
  json.key("source").text(value(Point::setpoint_source) != 0.0 ? "local" : "register").end_object();
  put(json, "output", value(Point::output));
  put(json, "firing_angle", value(Point::firing_angle));
  put(json, "duty", value(Point::duty));
  using registers::Warning;
  constexpr auto kLimits = registers::bit(Warning::current_limit) | registers::bit(Warning::voltage_limit) |
                           registers::bit(Warning::power_limit);
  const double warnings = value(Point::warnings);
  put_flags(json, "limits", registers::warning_words(),
            static_cast<double>(static_cast<std::uint32_t>(warnings) & kLimits));
  put_flags(json, "warnings", registers::warning_words(), warnings);
  put_flags(json, "trips", registers::trip_words(), value(Point::trips));
}

void put_wires(JsonText& json, const StateParts& parts, std::size_t u) {
  const auto& places = parts.facts.units[u];
  json.key("terminals").object();
  json.key("enable").flag(parts.snapshot.on(places.terminals[0]));
  json.key("reset").flag(parts.snapshot.on(places.terminals[1])).end_object();
  json.key("relays").array();
  const auto& relays = parts.facts.spec.units[u].unit.relays;
  for (std::size_t r = 0; r < relays.size(); ++r)
    json.object()
        .key("name")
        .text(relays[r].name)
        .key("closed")
        .flag(parts.snapshot.on(places.relays[r]))
        .end_object();
  json.end_array();
}

void put_meters(JsonText& json, const StateParts& parts, std::size_t u) {
  const BenchFacts& facts = parts.facts;
  const Snapshot& snapshot = parts.snapshot;
  const auto value = [&](Point point) { return snapshot.point(facts, u, point); };
  const auto of_phase = [&](Point first, std::size_t phase) {
    return snapshot.values[facts.units[u].points + static_cast<std::size_t>(first) + phase];
  };
  const auto& phases = facts.units[u].phases;
  json.key("supply_voltages").array();
  for (std::size_t p = 0; p < (phases.size() == 1 ? 1 : kPhases); ++p)
    json.number(tidy(of_phase(Point::supply_voltage_l1, p)));
  json.end_array().key("phases").array();
  for (std::size_t p = 0; p < phases.size(); ++p) {
    json.object().key("name").text(phases[p]);
    put(json, "voltage", of_phase(Point::load_voltage_l1, p));
    put(json, "current", of_phase(Point::load_current_l1, p));
    put(json, "power", of_phase(Point::load_power_l1, p));
    json.end_object();
  }
  json.end_array();
  put(json, "voltage", value(Point::load_voltage));
  put(json, "current", value(Point::load_current));
  put(json, "power", value(Point::load_power));
  put(json, "resistance", value(Point::load_resistance));
  json.key("element_temperature");
  if (parts.hidden)
    json.null();
  else
    json.number(tidy(value(Point::element_temperature)));
  json.key("heatsink_temperature");
  if (facts.spec.units[u].heat_sink)
    json.number(tidy(value(Point::heatsink_temperature)));
  else
    json.null();
  put(json, "energy", value(Point::energy));
  put(json, "run_time", value(Point::run_time));
}

void put_unit(JsonText& json, const StateParts& parts, std::size_t u) {
  json.object().key("name").text(parts.facts.spec.units[u].unit.name);
  json.key("state").text(to_word(parts.snapshot.state(parts.facts, u)));
  json.key("says").text(unit_says(parts.facts, parts.snapshot, u));
  put_command(json, parts, u);
  put_wires(json, parts, u);
  put_watchdog(json, parts.snapshot, parts.snapshot.units[u]);
  json.key("steps").array();
  for (const auto& step : parts.snapshot.units[u].steps)
    json.object().key("text").text(step.text).key("done").flag(step.done).end_object();
  json.end_array();
  put_meters(json, parts, u);
  json.key("leaks").flag(leaks(parts.facts, parts.snapshot, u)).end_object();
}

void put_zones(JsonText& json, const StateParts& parts) {
  const BenchFacts& facts = parts.facts;
  const Snapshot& snapshot = parts.snapshot;
  json.key("zones").array();
  for (std::size_t z = 0; z < facts.zones.size(); ++z) {
    const auto& places = facts.zones[z];
    json.object().key("name").text(facts.spec.zones[z].name).key("temperature");
    if (parts.hidden)
      json.null();
    else
      json.number(tidy(snapshot.values[places.temperature]));
    put(json, "measured", snapshot.values[places.measured]);
    json.key("cut_out");
    if (places.cut_out)
      json.flag(snapshot.on(*places.cut_out));
    else
      json.null();
    json.end_object();
  }
  json.end_array();
}

void put_in_force(JsonText& json, const StateParts& parts) {
  json.key("in_force").array();
  if (!parts.hidden) {
    for (const auto& entry : parts.in_force) {
      json.object().key("text").text(entry.text).key("since").time(entry.since);
      put_text_or_null(json, "undo", entry.undo);
      json.end_object();
    }
  }
  json.end_array();
}

void put_recovery(JsonText& json, const StateParts& parts) {
  const auto& recovery = parts.recovery;
  json.key("recovery").object();
  put_instant(json, "lost_at", recovery.lost_at());
  put_instant(json, "back_at", recovery.back_at());
  put_time(json, "seconds", recovery.length(parts.snapshot.at));
  json.key("units").array();
  for (const auto u : recovery.units()) json.text(parts.facts.spec.units[u].unit.name);
  json.end_array().end_object();
}

}  // namespace

std::string state_json(const StateParts& parts, std::string_view type) {
  JsonText json;
  json.object();
  if (!type.empty()) json.key("type").text(type);
  put_instant(json, "at", parts.snapshot.at);
  json.key("blind").flag(parts.blind);
  put(json, "plant_speed", parts.snapshot.plant_speed);
  json.key("running").flag(true);
  put_supply(json, parts);
  json.key("contactors").array();
  for (std::size_t c = 0; c < parts.facts.contactors.size(); ++c)
    json.object()
        .key("name")
        .text(parts.facts.spec.contactors[c].name)
        .key("closed")
        .flag(parts.snapshot.on(parts.facts.contactors[c]))
        .end_object();
  json.end_array();
  put_lines(json, parts);
  json.key("units").array();
  for (std::size_t u = 0; u < parts.facts.spec.units.size(); ++u) put_unit(json, parts, u);
  json.end_array();
  put_zones(json, parts);
  put_in_force(json, parts);
  put_recovery(json, parts);
  json.end_object();
  return std::move(json).finished();
}

}  // namespace emberline::io
