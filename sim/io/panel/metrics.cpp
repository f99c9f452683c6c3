#include "sim/io/panel/metrics.hpp"

#include <cmath>
#include <functional>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/base/quantity.hpp"

namespace emberline::io {
namespace {

using registers::Point;

using Labels = std::vector<std::pair<std::string_view, std::string_view>>;

/// A metric at a time: its HELP and TYPE, then its samples together, as the format wants it.
class MetricsText {
 public:
  void metric(std::string_view name, std::string_view type, std::string_view help) {
    name_ = std::string("emberline_") + std::string(name);
    text_ +=
        "# HELP " + name_ + " " + std::string(help) + "\n# TYPE " + name_ + " " + std::string(type) + "\n";
  }
  void sample(const Labels& labels, double value) {
    text_ += name_;
    bool first = true;
    for (const auto& [key, label] : labels) {
      text_ += first ? "{" : ",";
      first = false;
      text_ += std::string(key) + "=\"" + escaped(label) + "\"";
    }
    if (!first) text_ += "}";
    text_ += " " + number(value) + "\n";
  }
  [[nodiscard]] std::string finished() && { return std::move(text_); }

 private:
  /// In a label's value backslash, quote and line feed are escaped.
  static std::string escaped(std::string_view label) {
    std::string text;
    for (const char c : label) {
      if (c == '\\' || c == '"') text += '\\';
      if (c == '\n')
        text += "\\n";
      else
        text += c;
    }
    return text;
  }
  static std::string number(double value) {
    if (std::isnan(value)) return "NaN";
    if (std::isinf(value)) return value > 0.0 ? "+Inf" : "-Inf";
    return format_number(value);
  }

  std::string name_;
  std::string text_;
};

void put_of_units(MetricsText& text, const MetricsParts& parts) {
  struct Metric {
    std::string_view name;
    Point point;
    std::string_view type;
    std::string_view help;
  };
  constexpr std::string_view kGauge = "gauge";
  static constexpr Metric kMetrics[] = {
      {"unit_setpoint_ratio", Point::setpoint, kGauge, "Setpoint that masters have written, 0 to 1."},
      {"unit_setpoint_active_ratio", Point::setpoint_active, kGauge, "Setpoint that counts, 0 to 1."},
      {"unit_output_ratio", Point::output, kGauge, "Share of the power of full conduction, 0 to 1."},
      {"unit_load_voltage_volts", Point::load_voltage, kGauge, "RMS across the load, mean of the phases."},
      {"unit_load_current_amperes", Point::load_current, kGauge, "RMS through the load, mean of the phases."},
      {"unit_load_power_watts", Point::load_power, kGauge, "Power of the load."},
      {"unit_energy_joules_total", Point::energy, "counter", "Energy given to the load."},
      {"unit_run_time_seconds_total", Point::run_time, "counter", "How long the output has been on."},
      {"unit_element_temperature_celsius", Point::element_temperature, kGauge, "Temperature of the element."},
      {"unit_comms_age_seconds", Point::comms_age, kGauge, "Time since the watchdog was fed."},
      {"unit_comms_timeout_seconds", Point::comms_timeout, kGauge,
       "Silence after which comms count as lost; 0: never."},
      {"unit_comms_gap_longest_seconds", Point::comms_gap_longest, kGauge, "Longest silence so far."},
  };
  for (const auto& metric : kMetrics) {
    text.metric(metric.name, metric.type, metric.help);
    for (std::size_t u = 0; u < parts.facts.units.size(); ++u)
      text.sample({{"unit", parts.facts.spec.units[u].unit.name}},
                  parts.snapshot.point(parts.facts, u, metric.point));
  }
}

/// A sample for each word a unit can have, 1 for what it has.
void put_words(MetricsText& text, const MetricsParts& parts, std::string_view label,
               std::span<const registers::Word> words, const std::function<bool(std::size_t, int)>& has) {
  for (std::size_t u = 0; u < parts.facts.units.size(); ++u)
    for (const auto& [word, number] : words)
      text.sample({{"unit", parts.facts.spec.units[u].unit.name}, {label, word}}, has(u, number) ? 1.0 : 0.0);
}

void put_states(MetricsText& text, const MetricsParts& parts) {
  const auto bits_of = [&](Point point) {
    return [&parts, point](std::size_t u, int bit) {
      const auto bits = static_cast<std::uint32_t>(parts.snapshot.point(parts.facts, u, point));
      return (bits >> static_cast<unsigned>(bit) & 1U) != 0;
    };
  };
  text.metric("unit_state", "gauge", "1 for the state the unit is in, 0 for the others.");
  put_words(text, parts, "state", registers::state_words(), [&](std::size_t u, int number) {
    return parts.snapshot.point(parts.facts, u, Point::state) == number;
  });
  text.metric("unit_warning", "gauge", "1 while the warning stands.");
  put_words(text, parts, "warning", registers::warning_words(), bits_of(Point::warnings));
  text.metric("unit_trip", "gauge", "1 while the trip is latched.");
  put_words(text, parts, "trip", registers::trip_words(), bits_of(Point::trips));
  text.metric("unit_relay_closed", "gauge", "1 while the contact of the relay is closed.");
  for (std::size_t u = 0; u < parts.facts.units.size(); ++u) {
    const auto& unit = parts.facts.spec.units[u].unit;
    for (std::size_t r = 0; r < unit.relays.size(); ++r)
      text.sample({{"unit", unit.name}, {"relay", unit.relays[r].name}},
                  parts.snapshot.values[parts.facts.units[u].relays[r]]);
  }
}

void put_of_lines(MetricsText& text, const MetricsParts& parts) {
  const auto& lines = parts.facts.spec.lines;
  std::vector<TrafficFeed::Busy> busy;
  for (std::size_t l = 0; l < lines.size(); ++l) busy.push_back(parts.traffic.busy(l, parts.snapshot.at));
  text.metric("line_requests_total", "counter", "Requests that came whole.");
  for (std::size_t l = 0; l < lines.size(); ++l)
    text.sample({{"line", lines[l].name}}, static_cast<double>(busy[l].requests));
  text.metric("line_broken_total", "counter", "What came and was no frame.");
  for (std::size_t l = 0; l < lines.size(); ++l)
    text.sample({{"line", lines[l].name}}, static_cast<double>(busy[l].broken));
  text.metric("line_time_used_ratio", "gauge", "Share of the last two seconds that was used; RTU lines.");
  for (std::size_t l = 0; l < lines.size(); ++l)
    if (busy[l].time_share) text.sample({{"line", lines[l].name}}, *busy[l].time_share);
  text.metric("line_state", "gauge", "1 for what the line is like, 0 for the others.");
  for (std::size_t l = 0; l < lines.size(); ++l) {
    const auto place = parts.facts.line_states[l];
    for (const auto& [word, number] : parts.facts.info(place).values)
      text.sample({{"line", lines[l].name}, {"state", word}},
                  parts.snapshot.values[place] == number ? 1.0 : 0.0);
  }
}

void put_of_plant(MetricsText& text, const MetricsParts& parts) {
  const auto& zones = parts.facts.spec.zones;
  text.metric("zone_temperature_celsius", "gauge", "True temperature of the zone.");
  for (std::size_t z = 0; z < zones.size(); ++z)
    text.sample({{"zone", zones[z].name}}, parts.snapshot.values[parts.facts.zones[z].temperature]);
  text.metric("zone_measured_celsius", "gauge", "What the zone's sensor shows; NaN: nothing.");
  for (std::size_t z = 0; z < zones.size(); ++z)
    text.sample({{"zone", zones[z].name}}, parts.snapshot.values[parts.facts.zones[z].measured]);
  text.metric("contactor_closed", "gauge", "1 while the contactor is closed.");
  const auto& contactors = parts.facts.spec.contactors;
  for (std::size_t c = 0; c < contactors.size(); ++c)
    text.sample({{"contactor", contactors[c].name}}, parts.snapshot.values[parts.facts.contactors[c]]);
  constexpr std::string_view kPhases[] = {"l1", "l2", "l3"};
  text.metric("supply_voltage_volts", "gauge", "RMS at the busbar.");
  for (std::size_t p = 0; p < parts.facts.supply_voltages.size(); ++p)
    text.sample({{"phase", kPhases[p]}}, parts.snapshot.values[parts.facts.supply_voltages[p]]);
  text.metric("supply_current_amperes", "gauge", "RMS of all loads together.");
  for (std::size_t p = 0; p < parts.facts.supply_currents.size(); ++p)
    text.sample({{"phase", kPhases[p]}}, parts.snapshot.values[parts.facts.supply_currents[p]]);
  text.metric("supply_frequency_hertz", "gauge", "Frequency of the supply.");
  text.sample({}, parts.snapshot.values[parts.facts.supply_frequency]);
  text.metric("supply_power_watts", "gauge", "Power of all loads together.");
  text.sample({}, parts.snapshot.values[parts.facts.supply_power]);
}

}  // namespace

std::string metrics_text(const MetricsParts& parts) {
  MetricsText text;
  text.metric("build_info", "gauge", "1, with the program's version and the bench it runs.");
  text.sample({{"version", parts.version}, {"bench", parts.facts.spec.title}}, 1.0);
  text.metric("simulated_seconds_total", "counter", "Simulated time since the run began.");
  text.sample({}, to_seconds(parts.snapshot.at));
  text.metric("plant_speed", "gauge", "How much faster than electrical time zones, walls and sensors run.");
  text.sample({}, parts.snapshot.plant_speed);
  put_of_units(text, parts);
  put_states(text, parts);
  put_of_lines(text, parts);
  put_of_plant(text, parts);
  return std::move(text).finished();
}

}  // namespace emberline::io
