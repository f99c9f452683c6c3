#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <regex>
#include <set>
#include <string>

#include <doctest/doctest.h>

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

std::string quoted(std::string_view text) { return "\"" + std::string(text) + "\""; }

/// Properties of the words of timelines, one a line, as they stand eight columns in.
std::string action_properties() {
  std::string text;
  for (const auto* kind : faults::all_actions()) {
    if (!text.empty()) text += ",\n";
    text += "        " + quoted(kind->word) + ": { \"description\": " + quoted(kind->meaning) +
            ", \"type\": \"string\", \"minLength\": 1 }";
  }
  return text;
}

/// The definitions of scenario.json that hang on the list of actions.
std::string timeline_definitions() {
  return "    \"timeline_entry\": {\n"
         "      \"description\": \"One thing that is done to the bench, and when\",\n"
         "      \"type\": \"object\",\n"
         "      \"additionalProperties\": false,\n"
         "      \"required\": [\"at\"],\n"
         "      \"minProperties\": 2,\n"
         "      \"maxProperties\": 2,\n"
         "      \"properties\": {\n"
         "        \"at\": { \"description\": \"When, from the start of the run\", \"$ref\": "
         "\"#/definitions/time\" },\n" +
         action_properties() +
         "\n"
         "      }\n"
         "    },\n"
         "    \"moment\": {\n"
         "      \"description\": \"A time, or an entry of the timeline such as { cut: field }\",\n"
         "      \"anyOf\": [{ \"$ref\": \"#/definitions/time\" }, { \"$ref\": \"#/definitions/done\" }]\n"
         "    },\n"
         "    \"done\": {\n"
         "      \"description\": \"An entry of the timeline, without its time\",\n"
         "      \"type\": \"object\",\n"
         "      \"additionalProperties\": false,\n"
         "      \"minProperties\": 1,\n"
         "      \"maxProperties\": 1,\n"
         "      \"properties\": {\n" +
         action_properties() +
         "\n"
         "      }\n"
         "    },\n";
}

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
