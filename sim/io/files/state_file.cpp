#include "sim/io/files/state_file.hpp"

#include <string_view>

#include "sim/io/files/fields.hpp"
#include "sim/io/files/read_yaml.hpp"
#include "sim/io/files/values.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kFormat = "emberline-bench-state-1";
constexpr std::string_view kNotAState =
    "this is no saved state of a bench; expected a file written by 'emberline rehearse --save-state FILE'";

void read_number(const Node* node, Range range, std::string_view expected, double& into, Problems& problems) {
  read_within(node, Dimension::number, range, expected, into, problems);
}
void read_degC(const Node* node, double& into, Problems& problems) {
  read_number(node, {-273.15, 1e5}, "a temperature in degC, a number from -273.15 to 100000", into, problems);
}
void read_slope(const Node* node, double& into, Problems& problems) {
  read_number(node, {-1e9, 1e9}, "K per s, a number", into, problems);
}
void read_seconds(const Node* node, Duration& into, Problems& problems) {
  double seconds = 0.0;
  read_number(node, {0.0, 8.64e7}, "seconds, a number from 0 to 86400000 (1000 days)", seconds, problems);
  into = from_seconds(seconds);
}

/// Calls `read` for each item of a list; one is needed.
template <class Read>
void read_items(const Node* node, std::string_view expected, Problems& problems, Read read) {
  if (node == nullptr) return;
  if (node->kind != Node::Kind::sequence || node->items.empty())
    return complain_kind(*node, expected, problems);
  for (const auto& item : node->items) read(item);
}

/// The same for the entries of a mapping, which may be empty.
template <class Read>
void read_entries(const Node* node, std::string_view expected, Problems& problems, Read read) {
  if (node == nullptr) return;
  if (node->kind != Node::Kind::mapping) return complain_kind(*node, expected, problems);
  for (const auto& entry : node->entries) read(entry);
}

plant::Stretch read_stretch(const Node& node, Problems& problems) {
  plant::Stretch stretch;
  Fields fields(node, "{ \"for_s\": 4, \"from_degC\": 540, \"to_degC\": 540, ... }", problems);
  const auto* length = fields.required("for_s");
  const auto before = problems.size();
  read_seconds(length, stretch.length, problems);
  if (length != nullptr && problems.size() == before && stretch.length <= Duration{})
    complain_kind(*length, "seconds above 0", problems);
  read_degC(fields.required("from_degC"), stretch.start_degC, problems);
  read_slope(fields.required("from_K_per_s"), stretch.start_slope_K_per_s, problems);
  read_degC(fields.required("to_degC"), stretch.end_degC, problems);
  read_slope(fields.required("to_K_per_s"), stretch.end_slope_K_per_s, problems);
  fields.done();
  return stretch;
}

bench::BenchState::Zone read_zone(const Node& node, Problems& problems) {
  bench::BenchState::Zone zone;
  zone.name = node.label;
  Fields fields(node, "{ \"temperature_degC\": 540, \"sensor\": { \"shown_degC\": 540 } }", problems);
  read_degC(fields.required("temperature_degC"), zone.heat.temperature_degC, problems);
  read_items(fields.optional("wall_degC"), "a list of temperatures, one for each cell of the wall", problems,
             [&](const Node& cell) { read_degC(&cell, zone.heat.wall_degC.emplace_back(), problems); });
  if (const auto* sensor = fields.required("sensor")) {
    Fields inner(*sensor, "{ \"shown_degC\": 540 }", problems);
    read_degC(inner.required("shown_degC"), zone.heat.sensor.shown_degC, problems);
    read_items(
        inner.optional("on_its_way"), "a list of what the sensor has yet to show", problems,
        [&](const Node& item) { zone.heat.sensor.on_its_way.push_back(read_stretch(item, problems)); });
    inner.done();
  }
  fields.done();
  return zone;
}

bench::BenchState::Unit read_unit(const Node& node, Problems& problems) {
  bench::BenchState::Unit unit;
  unit.name = node.label;
  Fields fields(node, "{ \"energy_J\": 0, \"run_time_s\": 0 }", problems);
  if (const auto* element = fields.optional("element_degC"))
    read_degC(element, unit.element_degC.emplace(), problems);
  if (const auto* sink = fields.optional("heat_sink_degC"))
    read_degC(sink, unit.heat_sink_degC.emplace(), problems);
  read_number(fields.required("energy_J"), {0.0, 1e15}, "J, a number from 0 to 1e15", unit.energy_J,
              problems);
  read_seconds(fields.required("run_time_s"), unit.run_time, problems);
  fields.done();
  return unit;
}

bench::BenchState read_root(const Node& root, Problems& problems) {
  bench::BenchState state;
  Fields fields(root, "{ \"format\": \"emberline-bench-state-1\" }", problems);
  fields.required("format");
  read_text(fields.required("bench"), state.bench, problems);
  Duration taken_at{};
  read_seconds(fields.required("taken_at_s"), taken_at, problems);
  state.taken_at = SimTime{taken_at};
  read_entries(fields.required("zones"), "zones by name", problems,
               [&](const Node& zone) { state.zones.push_back(read_zone(zone, problems)); });
  read_entries(fields.required("units"), "units by name", problems,
               [&](const Node& unit) { state.units.push_back(read_unit(unit, problems)); });
  fields.done();
  return state;
}

}  // namespace

std::optional<bench::BenchState> read_state(const std::string& path, Problems& problems) {
  Problems own;
  const auto root = read_yaml(path, own);
  std::optional<bench::BenchState> state;
  if (root) {
    const auto* format = root->find("format");
    if (format == nullptr || !format->text.starts_with("emberline-bench-state-")) {
      own.clear();
      complain(own, {path, 0, 0}, std::string(kNotAState));
    } else if (format->text != kFormat) {
      complain_kind(*format, std::string(kFormat), own);
    } else {
      state = read_root(*root, own);
    }
  }
  sort_by_place(own);
  problems.insert(problems.end(), own.begin(), own.end());
  return own.empty() ? std::move(state) : std::nullopt;
}

}  // namespace emberline::io
