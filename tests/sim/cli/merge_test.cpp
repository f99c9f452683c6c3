#include <algorithm>
#include <filesystem>
#include <string>

#include <doctest/doctest.h>

#include "tests/support/process.hpp"

using emberline::testing::read_file;
using emberline::testing::run_emberline;
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
  folder.write("half.json", whole.substr(0, whole.size() / 2));
  const auto half = run_emberline({"merge", folder.file("half.json"), "--junit", folder.file("x.xml")});
  CHECK(half.status == 2);
  CHECK(half.err.find("half.json: ends in the middle") != std::string::npos);
  CHECK_FALSE(std::filesystem::exists(folder.file("x.xml")));
  const auto nowhere = run_emberline({"merge", folder.file("nowhere.json")});
  CHECK(nowhere.status == 2);
  CHECK(nowhere.err.find("nowhere.json: no such file") != std::string::npos);
  const auto unwritable = run_emberline({"merge", folder.file("one.json"), "--report", "/nowhere/x.html"});
  CHECK(unwritable.status == 3);
  CHECK(unwritable.err.find("/nowhere/x.html: cannot be written") != std::string::npos);
}
