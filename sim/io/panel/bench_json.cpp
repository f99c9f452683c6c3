#include "sim/io/panel/bench_json.hpp"

#include <algorithm>
#include <array>
#include <utility>

#include "sim/io/panel/actions_json.hpp"
#include "sim/io/panel/json_bits.hpp"
#include "sim/unit/words.hpp"

namespace emberline::io {
namespace {

constexpr const char* kCautions[] = {
    "A simulation: passing a rehearsal is no safety validation.",
    "A comms watchdog, an enable terminal or a latch is neither a safety function nor an emergency stop. "
    "Over-temperature cut-out and isolation are hard-wired, and separate from all of this.",
    "Holding the last command is heating blind; latching off can cost the charge; after a reset, heat can "
    "come "
    "back by itself.",
    "A thyristor that is off does not isolate. With phase-angle firing the neutral can carry more than a "
    "phase.",
    "Keep this bench off plant networks, and never let a PLC whose outputs reach real contactors run on its "
    "readings.",
    "Before a hand goes near a real cable: lock out, prove dead, follow the local code, leave it to licensed "
    "people."};

std::string_view word_of(unit::FiringMode mode) {
  switch (mode) {
    case unit::FiringMode::phase_angle:
      return "phase-angle";
    case unit::FiringMode::burst_spread:
      return "burst-spread";
    case unit::FiringMode::burst:
      return "burst";
  }
  return "";
}

std::string_view word_of(unit::ControlVariable variable) {
  switch (variable) {
    case unit::ControlVariable::open_loop:
      return "open-loop";
    case unit::ControlVariable::voltage:
      return "voltage";
    case unit::ControlVariable::voltage_squared:
      return "voltage-squared";
    case unit::ControlVariable::current:
      return "current";
    case unit::ControlVariable::power:
      return "power";
  }
  return "";
}

std::string_view word_of(Dimension dimension) {
  switch (dimension) {
    case Dimension::logical:
      return "switch";
    case Dimension::ratio:
      return "ratio";
    case Dimension::voltage:
      return "voltage";
    case Dimension::current:
      return "current";
    case Dimension::power:
      return "power";
    case Dimension::apparent_power:
      return "apparent-power";
    case Dimension::resistance:
      return "resistance";
    case Dimension::temperature:
      return "temperature";
    case Dimension::time:
      return "time";
    case Dimension::frequency:
      return "frequency";
    case Dimension::angle:
      return "angle";
    case Dimension::energy:
      return "energy";
    default:
      return "number";
  }
}

/// The unit of measure that values are given in; empty: none.
std::string_view unit_of(Dimension dimension) {
  if (dimension == Dimension::ratio) return "";
  return dimension == Dimension::energy ? "J" : natural_unit(dimension);
}

void put_lines(JsonText& json, const BenchFacts& facts) {
  json.key("lines").array();
  for (std::size_t l = 0; l < facts.spec.lines.size(); ++l) {
    const auto& line = facts.spec.lines[l];
    json.object().key("name").text(line.name).key("kind").text(bench::to_word(line.kind));
    if (const auto place = facts.place_of(l)) json.key("place").text(*place);
    if (bench::carries_rtu(line.kind)) json.key("speed").text(to_text(line.serial));
    json.key("slaves").array();
    for (const auto& slave : facts.spec.slaves_on(l))
      json.object().key("name").text(slave.name).key("id").whole(slave.id).end_object();
    json.end_array().end_object();
  }
  json.end_array();
}

std::string contactor_of(const bench::BenchSpec& spec, const std::string& unit) {
  for (const auto& contactor : spec.contactors)
    if (std::find(contactor.feeds.begin(), contactor.feeds.end(), unit) != contactor.feeds.end())
      return contactor.name;
  return {};
}

void put_units(JsonText& json, const BenchFacts& facts) {
  json.key("units").array();
  for (std::size_t u = 0; u < facts.spec.units.size(); ++u) {
    const auto& entry = facts.spec.units[u];
    const auto& unit = entry.unit;
    json.object().key("name").text(unit.name).key("id").whole(unit.id);
    put_texts(json, "lines", unit.lines);
    json.key("rated_voltage").number(unit.rated_voltage_V);
    json.key("rated_current").number(unit.rated_current_A);
    put_texts(json, "phases", facts.units[u].phases);
    json.key("firing").text(word_of(unit.firing.mode)).key("control").text(word_of(unit.control.variable));
    json.key("full_scale");
    if (unit.control.variable == unit::ControlVariable::open_loop)
      json.null();
    else
      json.number(unit.control.full_scale);
    put_text_or_null(json, "heats", entry.heats.value_or(""));
    put_text_or_null(json, "contactor", contactor_of(facts.spec, unit.name));
    put_texts(json, "terminals", std::array{"enable", "reset"});
    json.key("relays").array();
    for (const auto& relay : unit.relays) json.text(relay.name);
    json.end_array().key("has_heat_sink").flag(entry.heat_sink.has_value());
    json.key("timeout").time(unit.comms_loss.timeout);
    put_texts(json, "comms_lines", unit.comms_loss.lines);
    json.key("policy").text(to_word(unit.comms_loss.policy));
    json.key("reset_by").array();
    for (const auto by : unit.comms_loss.reset_by) json.text(unit::to_word(by));
    json.end_array().key("averaging").time(unit.averaging).end_object();
  }
  json.end_array();
}

void put_rest(JsonText& json, const bench::BenchSpec& spec) {
  json.key("zones").array();
  for (const auto& zone : spec.zones)
    json.object().key("name").text(zone.name).key("has_cut_out").flag(zone.cut_out.has_value()).end_object();
  json.end_array().key("contactors").array();
  for (const auto& contactor : spec.contactors) {
    json.object().key("name").text(contactor.name);
    put_texts(json, "feeds", contactor.feeds);
    json.end_object();
  }
  json.end_array().key("io_blocks").array();
  for (const auto& block : spec.io_blocks) {
    json.object().key("name").text(block.name).key("id").whole(block.id);
    put_texts(json, "lines", block.lines);
    json.end_object();
  }
  json.end_array();
}

void put_words(JsonText& json, std::string_view key, std::span<const registers::Word> words) {
  if (words.empty()) return;
  json.key(key).object();
  for (const auto& [word, number] : words) json.key(std::to_string(number)).text(word);
  json.end_object();
}

void put_signals(JsonText& json, const BenchFacts& facts, bool hidden) {
  json.key("signals").array();
  for (std::size_t place = 0; place < facts.signals.size(); ++place) {
    if (hidden && facts.signals[place].hidden) continue;
    const auto info = facts.info(place);
    json.object().key("name").text(facts.name(place)).key("quantity").text(word_of(info.dimension));
    json.key("unit").text(unit_of(info.dimension));
    put_words(json, "words", info.values);
    put_words(json, "bits", info.flags);
    json.end_object();
  }
  json.end_array();
}

}  // namespace

std::string bench_json(const BenchFacts& facts, std::string_view version, Role role, bool hidden) {
  Duration averaging{};
  for (const auto& entry : facts.spec.units) averaging = std::max(averaging, entry.unit.averaging);
  JsonText json;
  json.object().key("title").text(facts.spec.title).key("version").text(version);
  put_texts(json, "cautions", kCautions);
  json.key("clock").text("wall").key("averaging").time(averaging);
  put_lines(json, facts);
  put_units(json, facts);
  put_rest(json, facts.spec);
  put_signals(json, facts, hidden);
  if (role == Role::trainer)
    put_actions(json, facts.spec);
  else
    json.key("actions").array().end_array();
  json.end_object();
  return std::move(json).finished();
}

}  // namespace emberline::io
