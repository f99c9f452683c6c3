#include <string>

#include <boost/json.hpp>

#include "sim/base/quantity.hpp"
#include "sim/io/report/report.hpp"

namespace emberline::io {
namespace {

using bench::BenchState;

std::string in_quotes(const std::string& text) { return boost::json::serialize(boost::json::string(text)); }
std::string number(double value) { return format_number(value); }

/// A list or mapping over several lines, two blanks deeper than what it stands in.
template <class List, class Write>
std::string lines_of(const List& list, const std::string& indent, char open, char close, Write write) {
  if (list.empty()) return {open, close};
  std::string text{open};
  for (const auto& entry : list) {
    text += (text.size() == 1 ? "\n" : ",\n") + indent + "  ";
    text += write(entry);
  }
  return text + "\n" + indent + close;
}

std::string stretch_json(const plant::Stretch& stretch) {
  return "{ \"for_s\": " + number(to_seconds(stretch.length)) +
         ", \"from_degC\": " + number(stretch.start_degC) +
         ", \"from_K_per_s\": " + number(stretch.start_slope_K_per_s) +
         ", \"to_degC\": " + number(stretch.end_degC) +
         ", \"to_K_per_s\": " + number(stretch.end_slope_K_per_s) + " }";
}

std::string zone_json(const BenchState::Zone& zone) {
  const auto& heat = zone.heat;
  std::string text =
      in_quotes(zone.name) + ": {\n      \"temperature_degC\": " + number(heat.temperature_degC);
  if (!heat.wall_degC.empty())
    text += ",\n      \"wall_degC\": " + lines_of(heat.wall_degC, "      ", '[', ']', number);
  text += ",\n      \"sensor\": {\n        \"shown_degC\": " + number(heat.sensor.shown_degC);
  if (!heat.sensor.on_its_way.empty())
    text +=
        ",\n        \"on_its_way\": " + lines_of(heat.sensor.on_its_way, "        ", '[', ']', stretch_json);
  return text + "\n      }\n    }";
}

std::string unit_json(const BenchState::Unit& unit) {
  std::string text = in_quotes(unit.name) + ": {";
  if (unit.element_degC) text += " \"element_degC\": " + number(*unit.element_degC) + ",";
  if (unit.heat_sink_degC) text += " \"heat_sink_degC\": " + number(*unit.heat_sink_degC) + ",";
  return text + " \"energy_J\": " + number(unit.energy_J) +
         ", \"run_time_s\": " + number(to_seconds(unit.run_time)) + " }";
}

}  // namespace

// Laid out by hand, a value a line: people read it, and versions of it are compared.
std::string bench_state_json(const BenchState& state) {
  return "{\n  \"format\": \"emberline-bench-state-1\",\n  \"bench\": " + in_quotes(state.bench) +
         ",\n  \"taken_at_s\": " + number(to_seconds(state.taken_at)) +
         ",\n  \"zones\": " + lines_of(state.zones, "  ", '{', '}', zone_json) +
         ",\n  \"units\": " + lines_of(state.units, "  ", '{', '}', unit_json) + "\n}\n";
}

}  // namespace emberline::io
