#include "sim/io/panel/actions_json.hpp"

#include <string>
#include <string_view>
#include <vector>

#include "sim/base/quantity.hpp"
#include "sim/faults/action.hpp"
#include "sim/faults/action_key.hpp"
#include "sim/io/panel/json_bits.hpp"

namespace emberline::io {
namespace {

using faults::ActionKey;
using faults::ActionKind;
using faults::TargetKind;

const char* word_of(TargetKind kind) {
  switch (kind) {
    case TargetKind::line:
      return "line";
    case TargetKind::rtu_line:
      return "rtu-line";
    case TargetKind::tcp_line:
      return "tcp-line";
    case TargetKind::wire:
      return "wire";
    case TargetKind::unit:
      return "unit";
    case TargetKind::supply:
      return "supply";
    case TargetKind::leg:
      return "leg";
    case TargetKind::thyristor:
      return "thyristor";
    case TargetKind::zone:
      return "zone";
    case TargetKind::plant:
      return "plant";
    case TargetKind::mendable:
      return "mendable";
  }
  return "";
}

/// Where a trainer looks for it.
const char* group_of(const ActionKind& kind) {
  switch (kind.target) {
    case TargetKind::line:
    case TargetKind::rtu_line:
    case TargetKind::tcp_line:
      return "lines";
    case TargetKind::wire:
      return "wiring";
    case TargetKind::unit:
    case TargetKind::thyristor:
      return "unit";
    case TargetKind::supply:
      return "supply";
    case TargetKind::leg:  // the load's legs, but for the fuse in front of them
      return kind.word == "fuse_open" ? "unit" : "load";
    case TargetKind::zone:
      return kind.word.starts_with("sensor") ? "sensor" : "plant";
    case TargetKind::plant:
    case TargetKind::mendable:
      return "plant";
  }
  return "plant";
}

const char* word_of(ActionKey::Kind kind) {
  switch (kind) {
    case ActionKey::Kind::duration:
      return "duration";
    case ActionKey::Kind::share:
      return "share";
    case ActionKey::Kind::whole:
      return "whole";
    case ActionKey::Kind::rate:
      return "rate";
    case ActionKey::Kind::word:
      return "word";
    case ActionKey::Kind::percentage:
      return "percentage";
    case ActionKey::Kind::frequency:
      return "frequency";
    case ActionKey::Kind::difference:
      return "difference";
  }
  return "number";
}

/// What a key says that is left out, as it would be written; empty: nothing.
std::string fallback_text(const ActionKey& key) {
  if (!key.fallback) return {};
  const double value = *key.fallback;
  switch (key.kind) {
    case ActionKey::Kind::duration:
      return value < 0.0 ? std::string() : format_quantity(value, Dimension::time);
    case ActionKey::Kind::share:
    case ActionKey::Kind::percentage:
      return format_quantity(value, Dimension::ratio);
    case ActionKey::Kind::frequency:
      return format_quantity(value, Dimension::frequency);
    case ActionKey::Kind::difference:
      return format_quantity(value, Dimension::temperature_difference);
    case ActionKey::Kind::word:
      return value < 0.0 ? std::string() : std::string(key.words[static_cast<std::size_t>(value)]);
    default:
      return format_number(value);
  }
}

/// Every name an action could be said of; which of them suits a word, the word itself says.
std::vector<std::string> all_names(const bench::BenchSpec& spec) {
  constexpr const char* kParts[] = {".l1", ".l2", ".l3"};
  std::vector<std::string> names;
  for (const auto& line : spec.lines) names.push_back(line.name);
  for (const auto& entry : spec.units)
    for (const char* terminal : {".terminal.enable", ".terminal.reset"})
      names.push_back(entry.unit.name + terminal);
  for (const auto& contactor : spec.contactors) names.push_back(contactor.name);
  names.emplace_back("supply");
  for (const char* part : kParts) names.push_back(std::string("supply") + part);
  for (const auto& entry : spec.units) {
    names.push_back(entry.unit.name);
    for (const char* part : kParts)
      for (const char* side : {"", ".forward", ".backward"}) names.push_back(entry.unit.name + part + side);
  }
  for (const auto& zone : spec.zones) names.push_back(zone.name);
  names.emplace_back("plant");
  return names;
}

std::vector<std::string> targets_of(const bench::BenchSpec& spec, const ActionKind& kind,
                                    const std::vector<std::string>& names) {
  std::vector<std::string> targets;
  for (const auto& name : names) {
    const auto action = faults::name_action(spec, kind.word, name);
    if (action && (kind.refusal == nullptr || kind.refusal(spec, *action).empty())) targets.push_back(name);
  }
  return targets;
}

void put_key(JsonText& json, const ActionKey& key) {
  json.object().key("key").text(key.key).key("meaning").text(key.meaning);
  json.key("kind").text(word_of(key.kind)).key("required").flag(!key.fallback.has_value());
  put_text_or_null(json, "fallback", fallback_text(key));
  if (!key.words.empty()) put_texts(json, "words", key.words);
  json.end_object();
}

}  // namespace

void put_actions(JsonText& json, const bench::BenchSpec& spec) {
  const auto names = all_names(spec);
  json.key("actions").array();
  for (const auto* kind : faults::all_actions()) {
    const auto targets = targets_of(spec, *kind, names);
    if (targets.empty()) continue;  // nothing on this bench can have it
    json.object().key("word").text(kind->word).key("meaning").text(kind->meaning);
    json.key("target_kind").text(word_of(kind->target));
    put_texts(json, "targets", targets);
    json.key("keys").array();
    for (const auto& key : kind->keys) put_key(json, key);
    if (kind->undo != nullptr) put_key(json, faults::kFor);
    json.end_array();
    json.key("undoable").flag(kind->undo != nullptr).key("group").text(group_of(*kind)).end_object();
  }
  json.end_array();
}

}  // namespace emberline::io
