#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <map>
#include <regex>
#include <set>
#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "sim/base/quantity.hpp"
#include "sim/faults/action.hpp"
#include "sim/registers/point.hpp"

using namespace emberline;

// What the schemas for editors say about timelines is written from the list of actions, and held against it.
// tests/sim/io/files/schemas.py holds all the rest of the schemas against the built program.

namespace {

const std::string kFolder = EMBERLINE_SOURCE_DIR "/config/schema/";

std::string text_of(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  REQUIRE_MESSAGE(file.good(), path);
  return {std::istreambuf_iterator<char>(file), {}};
}

std::string in_quotes(std::string_view text) { return "\"" + std::string(text) + "\""; }

std::string listed_in_quotes(const std::vector<std::string>& words) {
  std::string text;
  for (const auto& word : words) text += (text.empty() ? "" : ", ") + in_quotes(word);
  return "[" + text + "]";
}

std::string joined(const std::vector<std::string>& lines) {
  std::string text;
  for (const auto& line : lines) text += (text.empty() ? "" : ",\n") + line;
  return text;
}

/// Words of timelines, one property a line.
std::vector<std::string> action_properties() {
  std::vector<std::string> lines;
  for (const auto* kind : faults::all_actions())
    lines.push_back("        " + in_quotes(kind->word) + ": { \"description\": " + in_quotes(kind->meaning) +
                    ", \"type\": \"string\", \"minLength\": 1 }");
  return lines;
}

/// A further key of actions, with what all actions that have it allow.
struct Key {
  faults::ActionKey::Kind kind{};
  bool several_kinds = false;  ///< what it takes hangs on the action
  std::string meaning;
  double least = 0.0;
  double most = 0.0;
  std::vector<std::string> words;
  std::vector<std::string> actions;  ///< that have it
};

std::map<std::string, Key> further_keys() {
  std::map<std::string, Key> keys;
  for (const auto* kind : faults::all_actions()) {
    for (const auto& key : kind->keys) {
      const auto [found, is_new] = keys.try_emplace(std::string(key.key));
      auto& merged = found->second;
      if (is_new) merged = {key.kind, false, {}, key.least, key.most, {}, {}};
      if (merged.kind != key.kind) merged.several_kinds = true;
      merged.meaning = key.meaning;
      merged.least = std::min(merged.least, key.least);
      merged.most = std::max(merged.most, key.most);
      merged.actions.emplace_back(kind->word);
      for (const auto word : key.words)
        if (std::find(merged.words.begin(), merged.words.end(), word) == merged.words.end())
          merged.words.emplace_back(word);
    }
  }
  return keys;
}

std::string type_of(const Key& key) {
  using Kind = faults::ActionKey::Kind;
  switch (key.kind) {
    case Kind::duration:
      return "\"$ref\": \"#/definitions/time\"";
    case Kind::share:
      return "\"$ref\": \"#/definitions/percentage\"";
    case Kind::whole:
      return "\"type\": \"integer\", \"minimum\": " + format_number(key.least) +
             ", \"maximum\": " + format_number(key.most);
    case Kind::rate:
      return "\"type\": \"number\", \"minimum\": 0, \"maximum\": 1";
    case Kind::percentage:
      return "\"$ref\": \"#/definitions/percentage\"";
    case Kind::frequency:
      return "\"$ref\": \"#/definitions/frequency\"";
    case Kind::difference:
      return "\"$ref\": \"#/definitions/temperature_difference\"";
    case Kind::word:
      return "\"enum\": " + listed_in_quotes(key.words);
  }
  return {};
}

/// What a key means; where actions that share it say it differently, what they have in common.
std::string meaning_of(const Key& key) {
  if (key.actions.size() == 1) return "With " + key.actions.front() + ": " + key.meaning;
  if (key.kind == faults::ActionKey::Kind::share) return "How many of them; all when left out";
  return "Further key of several actions, such as " + key.actions.back() + ": " + key.meaning;
}

std::vector<std::string> key_properties() {
  std::vector<std::string> lines;
  for (const auto& [word, key] : further_keys())
    lines.push_back("        " + in_quotes(word) + ": { \"description\": " + in_quotes(meaning_of(key)) +
                    ", " + (key.several_kinds ? "\"type\": [\"string\", \"number\"]" : type_of(key)) + " }");
  return lines;
}

/// Any of these keys has to be there, too.
std::string needs_one_of(const std::vector<std::string>& words) {
  std::string text;
  for (const auto& word : words)
    text += (text.empty() ? "" : ", ") + ("{ \"required\": [" + in_quotes(word) + "] }");
  return "{ \"anyOf\": [" + text + "] }";
}

/// What an action asks of the keys beside it; empty if nothing.
std::string demands_of(const faults::ActionKind& kind, const std::map<std::string, Key>& keys) {
  std::vector<std::string> required;
  std::vector<std::string> types;
  for (const auto& key : kind.keys) {
    if (!key.fallback) required.emplace_back(key.key);
    if (keys.at(std::string(key.key)).several_kinds)
      types.push_back(in_quotes(key.key) + ": { " +
                      type_of({key.kind, false, {}, key.least, key.most, {}, {}}) + " }");
  }
  if (types.empty()) return required.empty() ? "" : listed_in_quotes(required);
  std::string text = required.empty() ? "{ " : "{ \"required\": " + listed_in_quotes(required) + ", ";
  text += "\"properties\": { ";
  for (const auto& type : types) text += (&type == &types.front() ? "" : ", ") + type;
  return text + " } }";
}

/// Which keys go with which.
std::vector<std::string> dependencies() {
  std::vector<std::string> lines;
  std::vector<std::string> lasting;
  const auto keys = further_keys();
  for (const auto* kind : faults::all_actions()) {
    if (kind->undo != nullptr) lasting.emplace_back(kind->word);
    const auto demands = demands_of(*kind, keys);
    if (!demands.empty()) lines.push_back("        " + in_quotes(kind->word) + ": " + demands);
  }
  for (const auto& [word, key] : keys)
    lines.push_back("        " + in_quotes(word) + ": " + needs_one_of(key.actions));
  lines.push_back("        \"for\": { \"allOf\": [" + needs_one_of(lasting) +
                  ", { \"not\": { \"required\": [\"ask\"] } }] }");
  lines.push_back("        \"plus\": " + needs_one_of({"when", "after"}));
  lines.push_back("        \"nth\": [\"after\"]");
  return lines;
}

/// Exactly one of these keys, each a line that begins with `indent`.
std::vector<std::string> alternatives(const std::string& indent, const std::vector<std::string>& words) {
  std::vector<std::string> lines;
  for (const auto& word : words) lines.push_back(indent + "{ \"required\": [" + in_quotes(word) + "] }");
  return lines;
}

std::vector<std::string> action_words(std::vector<std::string> more = {}) {
  std::vector<std::string> words;
  for (const auto* kind : faults::all_actions()) words.emplace_back(kind->word);
  words.insert(words.end(), more.begin(), more.end());
  return words;
}

/// What can be waited for by name, one property a line.
constexpr const char* kNamed =
    R"(        "entry": { "description": "The entry of the timeline with this name is done", "$ref": "#/definitions/text" },
        "met": { "description": "The expectation of this name passes", "$ref": "#/definitions/text" })";
/// Signals have a dot.
constexpr const char* kSignals =
    R"(      "patternProperties": {
        "\\.": { "anyOf": [{"$ref": "#/definitions/value"}, {"$ref": "#/definitions/comparison"}] }
      },)";

std::string entry_definition() {
  return R"(    "timeline_entry": {
      "description": "One thing that is done to the bench, and when",
      "type": "object",
      "additionalProperties": false,
      "allOf": [
        { "oneOf": [{"required": ["at"]}, {"required": ["when"]}, {"required": ["after"]}] }
      ],
      "oneOf": [
)" + joined(alternatives("        ", action_words())) +
         R"(,
        { "required": ["ask"], "not": { "anyOf": [
)" + joined(alternatives("          ", action_words())) +
         R"(
        ] } }
      ],
      "dependencies": {
)" + joined(dependencies()) +
         R"(
      },
      "properties": {
        "at": { "description": "When, from the start of the run", "$ref": "#/definitions/time" },
        "when": { "description": "As soon as this holds, from the entry before on", "$ref": "#/definitions/awaited" },
        "after": { "description": "At this moment", "$ref": "#/definitions/moment" },
        "plus": { "description": "So long after what stands under 'when' or 'after'", "$ref": "#/definitions/time" },
        "nth": { "description": "Which occurrence of what stands under 'after'", "type": "integer", "minimum": 1, "maximum": 1000000 },
        "name": { "description": "By which others speak of it; stands once in a timeline", "$ref": "#/definitions/text" },
        "ask": { "description": "What a human is asked to do", "$ref": "#/definitions/text" },
        "for": { "description": "It is taken back after so long", "$ref": "#/definitions/time" },
)" + joined(action_properties()) +
         ",\n" + joined(key_properties()) +
         R"(
      }
    },
)";
}

std::string moment_definitions() {
  return R"(    "moment": {
      "description": "A time, an entry of the timeline such as { cut: field }, another expectation, or conditions",
      "anyOf": [{ "$ref": "#/definitions/time" }, { "$ref": "#/definitions/done" }, { "$ref": "#/definitions/awaited" }]
    },
    "done": {
      "description": "An entry of the timeline without its time, or an expectation that is met",
      "type": "object",
      "additionalProperties": false,
      "oneOf": [
)" + joined(alternatives("        ", action_words({"entry", "met"}))) +
         R"(
      ],
      "properties": {
        "plus": { "description": "So long after it", "$ref": "#/definitions/time" },
)" + std::string(kNamed) +
         ",\n" + joined(action_properties()) +
         R"(
      }
    },
    "awaited": {
      "description": "Conditions that come to hold",
      "type": "object",
      "minProperties": 1,
      "additionalProperties": false,
)" + std::string(kSignals) +
         R"(
      "properties": {
        "plus": { "description": "So long after it", "$ref": "#/definitions/time" }
      }
    },
)";
}

std::string step_definition() {
  return R"(    "sequence_step": {
      "description": "One thing of a sequence: conditions, an entry of the timeline, an expectation, or a write",
      "type": "object",
      "minProperties": 1,
      "additionalProperties": false,
)" + std::string(kSignals) +
         R"(
      "properties": {
        "within": { "description": "Counted from the step before, the first from the beginning", "$ref": "#/definitions/time" },
        "write": { "description": "A write that asks for this", "$ref": "#/definitions/of_one" },
)" + std::string(kNamed) +
         ",\n" + joined(action_properties()) +
         R"(
      }
    },
)";
}

/// The definitions of scenario.json that hang on the list of actions.
std::string timeline_definitions() { return entry_definition() + moment_definitions() + step_definition(); }

}  // namespace

TEST_CASE("an editor completes the words of a timeline: the schema has every action, and no other") {
  const auto path = kFolder + "scenario.json";
  auto text = text_of(path);
  const auto begin = text.find("    \"timeline_entry\": {\n");
  const auto end = text.find("    \"expectation\": {\n");
  REQUIRE(begin != std::string::npos);
  REQUIRE(end != std::string::npos);
  REQUIRE(begin < end);
  const auto expected = timeline_definitions();
  if (text.substr(begin, end - begin) == expected) return;
  if (std::getenv("EMBERLINE_WRITE_SCHEMA") != nullptr) {
    std::ofstream(path, std::ios::binary) << text.replace(begin, end - begin, expected);
    MESSAGE("written: " << path);
    return;
  }
  FAIL_CHECK(
      "config/schema/scenario.json, from timeline_entry up to expectation, differs from the list of actions. "
      "EMBERLINE_WRITE_SCHEMA=1 test_io_files --test-case='*words of a timeline*' writes it anew. Expected:\n"
      << expected);
}

TEST_CASE("an editor completes the points of a register table: the schema has every one, and no other") {
  const auto text = text_of(kFolder + "register-table.json");
  std::smatch list;
  REQUIRE(std::regex_search(text, list, std::regex(R"re("point": \{[^{}]*"enum": \[([^\]]*)\])re")));
  std::set<std::string> in_schema;
  const auto words = list[1].str();
  const std::regex word(R"re("([a-z0-9_]+)")re");
  for (std::sregex_iterator it(words.begin(), words.end(), word), none; it != none; ++it)
    in_schema.insert((*it)[1]);
  for (const auto& info : registers::all_points()) {
    const std::string name(info.name);
    CAPTURE(name);
    CHECK_MESSAGE(in_schema.erase(name) == 1, "add it under point in config/schema/register-table.json");
  }
  for (const auto& name : in_schema) FAIL_CHECK("the schema has point '" << name << "', which there is not");
}
