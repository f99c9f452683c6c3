#include <algorithm>
#include <string>
#include <string_view>

#include "plant-models/materials/material.hpp"
#include "sim/io/files/bench_parts.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"
#include "sim/unit/protection_info.hpp"

namespace emberline::io {
namespace {

using unit::Protection;
using unit::ProtectionInfo;

/// What a threshold may be, where that is narrower than what its point may carry.
struct Sense {
  double lowest;
  double highest;
  std::string_view expected;
};

Sense sense_of(const ProtectionInfo& info) {
  switch (info.protection) {
    case Protection::supply_high:
      return {1.0, 100.0, "a share of the nominal voltage of 100 % or more"};
    case Protection::supply_frequency:
      return {0.0, 1000.0, "how far off the nominal frequency, up to 1 kHz"};
    case Protection::heatsink_warm:
    case Protection::heatsink_over_temperature:
      return {-50.0, 1000.0, "a temperature from -50 degC to 1000 degC"};
    case Protection::over_current:
    case Protection::thyristor_shorted:
      return {0.0, 100.0, "a share of the rated current up to 10000 %"};
    default:
      return {0.0, 1.0, "a percentage from 0 % to 100 %"};
  }
}

/// The key of a protection's threshold; empty if it has none.
std::string_view key_of(const ProtectionInfo& info) {
  if (!info.threshold) return {};
  if (info.protection == Protection::supply_frequency) return "off_by";
  return info.acts == unit::Side::below ? "below" : "above";
}

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

void read_threshold(Fields& fields, const ProtectionInfo& info, unit::ProtectionSpec& spec,
                    Problems& problems) {
  if (!info.threshold) return;
  const auto dimension = registers::point_info(*info.threshold).dimension;
  const auto sense = sense_of(info);
  read_within(fields.optional(key_of(info)), dimension, {sense.lowest, sense.highest}, sense.expected,
              spec.threshold, problems);
  read_hysteresis(fields.optional("hysteresis"), dimension, spec.hysteresis, problems);
}

void read_keys(const Node& node, const ProtectionInfo& info, unit::UnitSpec& unit, Problems& problems) {
  auto& spec = unit.protections.at(static_cast<std::size_t>(info.protection));
  const auto key = key_of(info);
  Fields fields(node, key.empty() ? "{ after: 100 ms }" : "{ " + std::string(key) + ": ..., after: 2 s }",
                problems);
  read_threshold(fields, info, spec, problems);
  read_duration(fields.optional("after"), Bound::not_negative, spec.after, problems);
  if (info.trip) {
    read_resets(fields.optional("reset_by"), spec.reset_by, unit, problems);
  } else {
    fields.refuse("reset_by", "a warning goes when its cause goes, so only trips are reset");
  }
  if (info.protection == Protection::partial_load_failure) {
    static constexpr Choice<unit::LearnOn> kLearn[] = {{"first-run", unit::LearnOn::first_run},
                                                       {"command", unit::LearnOn::command}};
    read_word(fields.optional("learn"), kLearn, unit.learn_on, problems);
  }
  fields.done();
}

/// A load that changes its resistance by more than this on its way up would be taken for a failing one, or
/// hide one: its supervision has to be asked for.
constexpr double kSteadyEnough = 1.1;

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
  if (plant::resistance_spread(*entry.load.material) > kSteadyEnough)
    entry.unit.protections.at(static_cast<std::size_t>(Protection::partial_load_failure)).on = false;
  if (node == nullptr || node->kind == Node::Kind::refused) return;
  if (node->kind != Node::Kind::mapping)
    return complain_kind(*node, "protections such as { phase-lost: off, over-current: { above: 300 % } }",
                         problems);
  const auto all = unit::all_protections();
  for (const auto& given : node->entries) {
    const auto found = std::find_if(all.begin(), all.end(),
                                    [&](const ProtectionInfo& info) { return info.word == given.label; });
    if (found == all.end()) {
      std::vector<std::string> known;
      for (const auto& info : all) known.emplace_back(info.word);
      complain(problems, given.header, unknown("protection", given.label, known));
      continue;
    }
    bool& on = entry.unit.protections.at(static_cast<std::size_t>(found->protection)).on;
    if (given.kind == Node::Kind::mapping) {
      on = true;
      read_keys(given, *found, entry.unit, problems);
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
