#include <algorithm>
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include <doctest/doctest.h>

#include "tests/support/small_story.hpp"

using emberline::testing::read_file;
using emberline::testing::run_emberline;
using emberline::testing::SmallStory;
using emberline::testing::TemporaryFolder;

namespace {

const std::string kStories = std::string(EMBERLINE_SOURCE_DIR) + "/scenarios/";
const std::string kGood = kStories + "cable-pulled-latch.yaml";
const std::string kBad = kStories + "must-fail/comes-back-heating.yaml";

std::size_t lines_of(const std::string& text) {
  return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
}

}  // namespace

TEST_CASE("the reports of merged shards differ from those of one run, or depend on the order of the shards") {
  const TemporaryFolder folder;
  CHECK(run_emberline({"rehearse", kGood, "--json", folder.file("one.json")}).status == 0);
  CHECK(run_emberline({"rehearse", kBad, "--json", folder.file("two.json")}).status == 1);
  CHECK(run_emberline({"rehearse", kGood, kBad, "--json", folder.file("all.json")}).status == 1);
  const auto merged =
      run_emberline({"merge", folder.file("two.json"), folder.file("one.json"), "--json",
                     folder.file("merged.json"), "--report", folder.file("report.html"), "--junit",
                     folder.file("verdicts.xml"), "--trends", folder.file("trends")});
  CHECK_MESSAGE(merged.status == 1, merged.err);
  CHECK(merged.out.find("1 of 2 rehearsals passed") != std::string::npos);
  CHECK(merged.out.find("PLC comes back at zero") != std::string::npos);
  CHECK(merged.out.find("no safety validation") != std::string::npos);
  CHECK(read_file(folder.file("merged.json")) == read_file(folder.file("all.json")));
  CHECK(read_file(folder.file("report.html")).find("1 of 2 passed") != std::string::npos);
  CHECK(read_file(folder.file("verdicts.xml")).find("failures=\"1\"") != std::string::npos);
  CHECK(std::filesystem::exists(folder.file("trends") + "/cable-pulled-latch.csv"));
  CHECK(std::filesystem::exists(folder.file("trends") + "/comes-back-heating.csv"));
  CHECK(run_emberline({"merge", folder.file("one.json")}).status == 0);
}

TEST_CASE("a rehearsal that two shards hold is counted twice, or a broken shard is left out in silence") {
  const TemporaryFolder folder;
  CHECK(run_emberline({"rehearse", kGood, "--json", folder.file("one.json")}).status == 0);
  const auto twice = run_emberline(
      {"merge", folder.file("one.json"), folder.file("one.json"), "--report", folder.file("report.html")});
  CHECK(twice.status == 2);
  CHECK(twice.err.find("holds 'cable-pulled-latch' with seed 1, which") != std::string::npos);
  CHECK(lines_of(twice.err) == 1);
  CHECK_FALSE(std::filesystem::exists(folder.file("report.html")));
  const auto whole = read_file(folder.file("one.json"));
  // Also behind the point of a number.
  for (const auto size : {whole.size() / 2, whole.find("537.") + 4}) {
    folder.write("half.json", whole.substr(0, size));
    const auto half = run_emberline({"merge", folder.file("half.json"), "--junit", folder.file("x.xml")});
    CHECK(half.status == 2);
    CHECK(half.err.find("half.json: ends in the middle") != std::string::npos);
  }
  CHECK_FALSE(std::filesystem::exists(folder.file("x.xml")));
  const auto nowhere = run_emberline({"merge", folder.file("nowhere.json")});
  CHECK(nowhere.status == 2);
  CHECK(nowhere.err.find("nowhere.json: no such file") != std::string::npos);
  const auto unwritable = run_emberline({"merge", folder.file("one.json"), "--report", "/nowhere/x.html"});
  CHECK(unwritable.status == 3);
  CHECK(unwritable.err.find("/nowhere/x.html: cannot be written") != std::string::npos);
}

TEST_CASE("shards of which one is missing, twice there or of another run are merged as if all were well") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto one = story.stepped("one.yaml", "One");
  const auto two = story.stepped("two.yaml", "Two");
  const auto shard = [&](const std::string& part, const std::string& repeat, const std::string& name) {
    const auto run = run_emberline(
        {"rehearse", two, one, "--repeat", repeat, "--shard", part, "--json", folder.file(name + ".json")});
    CHECK_MESSAGE(run.status == 0, run.err);
  };
  shard("1/3", "2", "a");
  shard("2/3", "2", "b");
  shard("3/3", "2", "c");
  shard("3/3", "1", "other");  // holds none of two
  CHECK(run_emberline({"rehearse", two, one, "--repeat", "2", "--json", folder.file("all.json")}).status ==
        0);
  const auto merge = [&](const std::vector<std::string>& names) {
    std::vector<std::string> words{"merge", "--json", folder.file("merged.json")};
    for (const auto& name : names) words.push_back(folder.file(name + ".json"));
    return run_emberline(words);
  };
  // In the order in which the run listed them, whichever comes first: the JSON of one run.
  CHECK(merge({"c", "a", "b"}).status == 0);
  CHECK(read_file(folder.file("merged.json")) == read_file(folder.file("all.json")));
  std::filesystem::remove(folder.file("merged.json"));
  auto whole = read_file(folder.file("a.json"));
  const auto part = whole.find("\"part\":1");
  REQUIRE(part != std::string::npos);
  folder.write("few.json", whole.replace(part, 8, "\"part\":2"));  // two rehearsals, where part 2 has one
  struct Case {
    std::vector<std::string> names;
    std::string says;
  };
  for (const auto& [names, says] : std::vector<Case>{
           {{"a", "c"}, "not all shards are there: part 2 of 3 is missing"},
           {{"b"}, "not all shards are there: parts 1, 3 of 3 are missing"},
           {{"a", "b", "b"}, "b.json: is part 2 of 3, which "},
           {{"a", "b", "other"}, "other.json: is part 3 of 3 of a run of 2 rehearsals, but "},
           {{"a", "b", "c", "all"}, "all.json: is no part of a run, "},
           {{"all", "c"}, "all.json: is no part of a run, "},
           {{"a", "few", "c"}, "few.json: holds 2 rehearsals, expected the 1 of part 2 of 3 of 4"},
       }) {
    CAPTURE(says);
    const auto run = merge(names);
    CHECK(run.status == 2);
    CHECK_MESSAGE(lines_of(run.err) == 1, run.err);
    CHECK_MESSAGE(run.err.find(says) != std::string::npos, run.err);
    CHECK_FALSE(std::filesystem::exists(folder.file("merged.json")));
  }
}

TEST_CASE("two stories of one name in two folders are taken for one, in shards or out of them") {
  const TemporaryFolder folder;
  std::filesystem::create_directory(folder.file("line-a"));
  std::filesystem::create_directory(folder.file("line-b"));
  const SmallStory story(folder);
  const auto a = story.stepped("line-a/cable.yaml", "Cable of line A");
  const auto b = story.stepped("line-b/cable.yaml", "Cable of line B");
  for (const char* line : {"line-a", "line-b"})
    std::filesystem::copy_file(folder.file("bench.yaml"), folder.file(std::string(line) + "/bench.yaml"));
  const auto rehearse = [&](const std::vector<std::string>& files, const std::string& shard,
                            const std::string& json) {
    std::vector<std::string> words{"rehearse", "--json", folder.file(json)};
    if (!shard.empty()) words.insert(words.end(), {"--shard", shard});
    words.insert(words.end(), files.begin(), files.end());
    CHECK(run_emberline(words).status == 0);
  };
  rehearse({a, b}, "1/2", "1.json");
  rehearse({a, b}, "2/2", "2.json");
  rehearse({a}, "", "a.json");
  rehearse({b}, "", "b.json");
  for (const auto& [first, second] : {std::pair{"1.json", "2.json"}, std::pair{"a.json", "b.json"}}) {
    const auto run =
        run_emberline({"merge", folder.file(first), folder.file(second), "--trends", folder.file("trends")});
    CHECK_MESSAGE(run.status == 0, run.err);
    CHECK(run.out.find("2 of 2 rehearsals passed") != std::string::npos);
  }
}

TEST_CASE("a merged report is written over a shard, which is gone then") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto shard = folder.file("shard.json");
  CHECK(run_emberline({"rehearse", story.stepped("one.yaml", "One"), "--json", shard}).status == 0);
  const auto before = read_file(shard);
  for (const char* option : {"--json", "--report", "--junit"}) {
    const auto run = run_emberline({"merge", shard, option, shard});
    CHECK(run.status == 2);
    CHECK(lines_of(run.err) == 1);
    CHECK(run.err.find("would be overwritten") != std::string::npos);
    CHECK(read_file(shard) == before);
  }
}
