#include <filesystem>
#include <fstream>
#include <iterator>
#include <regex>
#include <set>
#include <string>

#include <doctest/doctest.h>

#include "plant-models/materials/material.hpp"
#include "sim/base/duration_text.hpp"
#include "sim/faults/action.hpp"
#include "sim/unit/protection_info.hpp"
#include "tests/sim/io/files/sample_files.hpp"
#include "tests/sim/io/files/workspace.hpp"

using namespace emberline;

// config/README.md, config/plant.md and config/scenario.md are held against the sources of the loader: a key
// that is read and not described there is found by the calls that read it.

namespace {

using Words = std::set<std::string>;

std::string text_of(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  REQUIRE_MESSAGE(file.good(), path.string());
  return {std::istreambuf_iterator<char>(file), {}};
}

const std::string& reference() {
  static const std::string text = text_of(EMBERLINE_SOURCE_DIR "/config/README.md");
  return text;
}

/// What a bench file says of supply, heat, loads and protections.
const std::string& plant_reference() {
  static const std::string text = text_of(EMBERLINE_SOURCE_DIR "/config/plant.md");
  return text;
}

/// What a scenario file says.
const std::string& scenario_reference() {
  static const std::string text = text_of(EMBERLINE_SOURCE_DIR "/config/scenario.md");
  return text;
}

/// From one heading of the second level to the next; of benches with what plant.md says of them.
std::string section(const std::string& title) {
  if (title == "Scenario") return scenario_reference();
  const auto begin = reference().find("\n## " + title + "\n");
  REQUIRE_MESSAGE(begin != std::string::npos, title);
  const auto text = reference().substr(begin, reference().find("\n## ", begin + 1) - begin);
  return title == "Bench" ? text + plant_reference() : text;
}

/// The first group of every match.
Words matches(const std::string& text, const std::string& pattern) {
  Words words;
  const std::regex regex(pattern);
  for (std::sregex_iterator it(text.begin(), text.end(), regex), end; it != end; ++it) words.insert((*it)[1]);
  return words;
}

/// Sources of the loader whose names begin so.
std::string sources(const std::string& prefix) {
  std::string text;
  for (const auto& entry : std::filesystem::directory_iterator(EMBERLINE_SOURCE_DIR "/sim/io/files")) {
    const auto name = entry.path().filename().string();
    if (name.starts_with(prefix) && name.ends_with(".cpp")) text += text_of(entry.path());
  }
  return text;
}

/// Keys that are asked for by name, and the words of choices, keys and values alike.
Words read_by(const std::string& source) {
  auto words = matches(source, R"re((?:required|optional|may_be_empty|find)\(\s*"([A-Za-z_-]+)")re");
  words.merge(matches(source, R"re(\{"([A-Za-z0-9_-]+)",\s*[A-Za-z_])re"));
  return words;
}

/// Words in lists of nothing but words: what is planned, and keys that have no place somewhere.
Words listed_in(const std::string& source) {
  Words words;
  for (const auto& list : matches(
           source, R"re((?:[^A-Za-z]|Actions|Ways)\{\s*("[A-Za-z0-9_-]+"(?:,\s*"[A-Za-z0-9_-]+")*)\s*\})re"))
    words.merge(matches(list, R"re("([A-Za-z0-9_-]+)")re"));
  return words;
}

Words code_words(const std::string& text) { return matches(text, "`([^`\n]+)`"); }

void check_described(const Words& words, const Words& described) {
  for (const auto& word : words) {
    CAPTURE(word);
    CHECK(described.contains(word));
  }
}

}  // namespace

TEST_CASE("every key and word that is read from a file stands in its part of the reference") {
  struct Part {
    const char* prefix;
    const char* title;
    const char* one_of_them;
    std::size_t at_least;
  };
  const Part parts[] = {{"bench_", "Bench", "latch_survives_power", 80},
                        {"register_", "Register table", "word_order", 25},
                        {"scenario_", "Scenario", "when_back", 35},
                        {"poll_plan_", "Poll plan", "poll_lost_every", 10},
                        {"table_mapping_", "Table mapping", "skip_rows", 30}};
  for (const auto& [prefix, title, one_of_them, at_least] : parts) {
    CAPTURE(std::string(title));
    const auto words = read_by(sources(prefix));
    CHECK(words.contains(one_of_them));
    CHECK(words.size() >= at_least);
    check_described(words, code_words(section(title)));
  }
}

TEST_CASE("every word that is refused because it is not there yet stands in the reference") {
  const auto words = listed_in(sources("bench_") + sources("register_") + sources("scenario_"));
  CHECK(words.contains("holding"));
  check_described(words, code_words(reference() + plant_reference() + scenario_reference()));
}

TEST_CASE("actions, points, materials and what can be waited for stand in the reference") {
  const auto scenario = code_words(section("Scenario"));
  for (const auto* action : faults::all_actions()) {
    check_described({std::string(action->word)}, scenario);
    for (const auto& key : action->keys) {
      check_described({std::string(key.key)}, scenario);
      for (const auto word : key.words) check_described({std::string(word)}, scenario);
    }
  }
  const auto bench = code_words(section("Bench"));
  for (const auto& material : plant::all_materials()) check_described({std::string(material.name)}, bench);
  const auto table = code_words(section("Register table"));
  for (const auto& info : registers::all_points())
    check_described({std::regex_replace(std::string(info.name), std::regex("_l[123]$"), "")}, table);
  for (const auto words : {registers::warning_words(), registers::trip_words()})
    for (const auto& word : words) check_described({std::string(word.first)}, bench);
}

TEST_CASE("the reference has every protection with the values that hold where a file says nothing") {
  const auto defaults = unit::default_protections();
  for (const auto& info : unit::all_protections()) {
    const std::string word(info.word);
    CAPTURE(word);
    const auto& spec = defaults.at(static_cast<std::size_t>(info.protection));
    CHECK(spec.on);
    CHECK(spec.reset_by == std::vector{unit::ResetBy::enable_cycle});
    std::string row = "| `" + word + "` | ";
    if (info.threshold) {
      const auto dimension = registers::point_info(*info.threshold).dimension;
      const auto difference =
          dimension == Dimension::temperature ? Dimension::temperature_difference : dimension;
      const auto* key = info.protection == unit::Protection::supply_frequency ? "off_by"
                        : info.acts == unit::Side::below                      ? "below"
                                                                              : "above";
      row += "`" + std::string(key) + "` " + format_quantity(spec.threshold, dimension) + " | " +
             format_duration(spec.after) + " | " + format_quantity(spec.hysteresis, difference) + " | ";
    } else {
      row += "| " + format_duration(spec.after) + " | | ";
    }
    row += info.trip ? "trip" : "warning";
    CHECK_MESSAGE(plant_reference().find(row) != std::string::npos, row);
  }
}

TEST_CASE("the example of the reference loads, and says something else than the defaults") {
  const auto begin = reference().find("```yaml\n");
  REQUIRE(begin != std::string::npos);
  const auto end = reference().find("```\n", begin + 8);
  auto example = reference().substr(begin + 8, end - begin - 8);
  example = std::regex_replace(example, std::regex("(^|\n)(?=.)"), "$1    ");
  const test::Workspace workspace;
  workspace.write("table.yaml", test::kTable);
  const std::string bench = test::replaced(
      test::kBench, "    comms_loss: { lines: [field], timeout: 3 s, policy: latch-to-inhibit }\n", example);
  const auto loaded = io::load_bench(workspace.write("bench.yaml", bench));
  if (!loaded) FAIL(workspace.lines(loaded.error()).front());
  const auto& spec = loaded->units.at(0).unit.comms_loss;
  CHECK(spec.from == unit::ArmedFrom::power_up);
  CHECK(spec.restored_after == 3);
  CHECK(spec.reset_by.size() == 2);
  CHECK(spec.latch_survives_power);
}

TEST_CASE("no story is missing from the list of stories, nor one in it that is not there") {
  const std::filesystem::path folder = EMBERLINE_SOURCE_DIR "/scenarios";
  const auto listed = matches(text_of(folder / "README.md"), R"re(\]\(((?:must-fail/)?[a-z-]+\.yaml)\))re");
  Words there;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(folder))
    if (entry.path().extension() == ".yaml") there.insert(entry.path().lexically_relative(folder).string());
  CHECK(there.size() > 40);
  CHECK(listed == there);
}
