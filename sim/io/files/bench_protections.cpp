#include <algorithm>
#include <array>
#include <string>
#include <string_view>

#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

using unit::Protection;

/// What a protection compares with, in the words of a file.
struct Words {
  std::string_view name;
  std::string_view key;  ///< of its threshold; empty: it has none
  Dimension dimension;
  double lowest;  ///< threshold, SI
  double highest;
  std::string_view expected;
  bool trips;
};

constexpr double kFarAway = 100.0;  // shares
constexpr double kHottest_degC = 1000.0;

/// In the order of the enumeration.
constexpr std::array<Words, unit::kProtectionCount> kProtections{{
    {"supply-low", "below", Dimension::ratio, 0.0, 1.0, "a share of the nominal voltage from 0 % to 100 %",
     false},
    {"supply-high", "above", Dimension::ratio, 1.0, kFarAway,
     "a share of the nominal voltage of 100 % or more", false},
    {"supply-frequency", "off_by", Dimension::frequency, 0.0, 1000.0,
     "a deviation from the nominal frequency such as '1 Hz'", false},
    {"load-open", "below", Dimension::ratio, 0.0, 1.0, "a share of the rated current from 0 % to 100 %",
     false},
    {"partial-load-failure", "below", Dimension::ratio, 0.0, 1.0,
     "a share of the learned conductance from 0 % to 100 %", false},
    {"heatsink-warm", "above", Dimension::temperature, -273.15, kHottest_degC,
     "a temperature up to 1000 degC", false},
    {"over-current", "above", Dimension::ratio, 0.0, kFarAway, "a share of the rated current up to 10000 %",
     true},
    {"overload", "above", Dimension::ratio, 0.0, 1.0, "a share of what melts the fuse from 0 % to 100 %",
     true},
    {"phase-lost", "below", Dimension::ratio, 0.0, 1.0, "a share of the nominal voltage from 0 % to 100 %",
     true},
    {"fuse-open", "", Dimension::number, 0.0, 0.0, "", true},
    {"heatsink-over-temperature", "above", Dimension::temperature, -273.15, kHottest_degC,
     "a temperature up to 1000 degC", true},
    {"thyristor-shorted", "above", Dimension::ratio, 0.0, kFarAway,
     "a share of the rated current up to 10000 %", true},
}};

/// A distance between temperatures may be written in K or degC.
void read_hysteresis(const Node* node, Dimension dimension, double& into, Problems& problems) {
  if (node == nullptr) return;
  Node difference = *node;
  auto& text = difference.text;
  if (dimension == Dimension::temperature) {
    dimension = Dimension::temperature_difference;
    if (text.ends_with("degC")) text = text.substr(0, text.size() - 4) + "K";
  }
  read_quantity(&difference, dimension, Bound::not_negative, into, problems);
}

void read_learn(Fields& fields, std::size_t index, unit::UnitSpec& unit, Problems& problems) {
  static constexpr Choice<unit::LearnOn> kLearn[] = {{"first-run", unit::LearnOn::first_run},
                                                     {"command", unit::LearnOn::command}};
  if (index != static_cast<std::size_t>(Protection::partial_load_failure)) return;
  read_word(fields.optional("learn"), kLearn, unit.learn_on, problems);
}

void read_keys(const Node& node, std::size_t index, unit::UnitSpec& unit, Problems& problems) {
  const auto& words = kProtections.at(index);
  auto& spec = unit.protections.at(index);
  Fields fields(
      node, words.key.empty() ? "{ after: 100 ms }" : "{ " + std::string(words.key) + ": ..., after: 2 s }",
      problems);
  if (!words.key.empty())
    read_within(fields.optional(words.key), words.dimension, {words.lowest, words.highest}, words.expected,
                spec.threshold, problems);
  read_duration(fields.optional("after"), Bound::not_negative, spec.after, problems);
  if (words.trips) {
    fields.refuse("hysteresis", "a trip is latched, so only warnings have one");
    read_resets(fields.optional("reset_by"), spec.reset_by, unit, problems);
  } else {
    read_hysteresis(fields.optional("hysteresis"), words.dimension, spec.hysteresis, problems);
    fields.refuse("reset_by", "a warning goes when its cause goes, so only trips are reset");
  }
  read_learn(fields, index, unit, problems);
  fields.done();
}

/// What a protection looks at has to be there.
void demand_watched(const Node& node, const bench::UnitEntry& entry, Problems& problems) {
  const auto& name = node.label;
  if (name == "overload" && !entry.fuse)
    complain(problems, node.header, "overload: counts up to what melts the fuse, and the unit has no 'fuse'");
  if (name.starts_with("heatsink-") && !entry.heat_sink)
    complain(problems, node.header, name + ": the unit has no 'heat_sink' that could get warm");
}

}  // namespace

void read_protections(const Node* node, bench::UnitEntry& entry, Problems& problems) {
  if (node == nullptr || node->kind == Node::Kind::refused) return;
  if (node->kind != Node::Kind::mapping)
    return complain_kind(*node, "protections such as { phase-lost: off, over-current: { above: 300 % } }",
                         problems);
  for (const auto& given : node->entries) {
    const auto found = std::find_if(kProtections.begin(), kProtections.end(),
                                    [&](const Words& words) { return words.name == given.label; });
    if (found == kProtections.end()) {
      std::vector<std::string> known;
      for (const auto& words : kProtections) known.emplace_back(words.name);
      complain(problems, given.header, unknown("protection", given.label, known));
      continue;
    }
    const auto index = static_cast<std::size_t>(found - kProtections.begin());
    bool& on = entry.unit.protections.at(index).on;
    if (given.kind == Node::Kind::mapping) {
      on = true;
      read_keys(given, index, entry.unit, problems);
    } else if (given.kind == Node::Kind::scalar) {
      read_switch(&given, on, problems);
    } else {
      complain_kind(given, "on, off or keys such as { after: 2 s }", problems);
    }
    if (on) demand_watched(given, entry, problems);
  }
}

void read_heat_sink(const Node* node, bench::UnitEntry& entry, Problems& problems) {
  if (node == nullptr) return;
  auto& sink = entry.heat_sink.emplace();
  Fields fields(*node, "{ resistance: 0.25 K/W }", problems);
  read_quantity(
      fields.required("resistance",
                      "expected that to the cabinet's air with the fan running, such as '0.25 K/W'"),
      Dimension::thermal_resistance, Bound::positive, sink.resistance_K_per_W, problems);
  read_quantity(fields.optional("heat_capacity"), Dimension::heat_capacity, Bound::positive,
                sink.heat_capacity_J_per_K, problems);
  read_quantity(fields.optional("ambient"), Dimension::temperature, Bound::any, sink.ambient_degC, problems);
  read_within(fields.optional("without_fan"), Dimension::number, {1.0, 100.0},
              "how many times the resistance is without the fan, from 1 to 100", sink.without_fan, problems);
  fields.done();
}

void read_fuse(const Node* node, bench::UnitEntry& entry, Problems& problems) {
  if (node == nullptr) return;
  auto& fuse = entry.fuse.emplace();
  Fields fields(*node, "{ rating: 63 A, melting: 5 kA2s }", problems);
  read_quantity(fields.required("rating", "expected what it carries for ever, such as '63 A'"),
                Dimension::current, Bound::positive, fuse.rating_A, problems);
  read_quantity(fields.required("melting", "expected the I2t that melts it, such as '5 kA2s'"),
                Dimension::melting_integral, Bound::positive, fuse.melting_A2s, problems);
  fields.done();
}

}  // namespace emberline::io
