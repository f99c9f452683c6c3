#include <string>
#include <vector>

#include <doctest/doctest.h>

#include "tests/support/small_story.hpp"

using emberline::testing::read_file;
using emberline::testing::run_emberline;
using emberline::testing::SmallStory;
using emberline::testing::TemporaryFolder;

namespace {

std::vector<std::string> with(std::vector<std::string> words, const std::vector<std::string>& further) {
  words.insert(words.end(), further.begin(), further.end());
  return words;
}

}  // namespace

TEST_CASE("rehearsals side by side write the JSON they write one after the other, and are told of in order") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  std::vector<std::string> words{"rehearse"};
  for (int i = 0; i < 6; ++i)
    words.push_back(
        story.stepped("story-" + std::to_string(i) + ".yaml", "Story " + std::to_string(i), i != 3));
  const auto single = run_emberline(with(words, {"--json", folder.file("single.json")}));
  CHECK_MESSAGE(single.status == 1, (single.out + single.err));
  const auto json = read_file(folder.file("single.json"));
  CHECK(json.size() > 1000);
  for (const char* jobs : {"2", "3", "0"}) {
    CAPTURE(jobs);
    const auto several = run_emberline(with(words, {"-j", jobs, "--json", folder.file("several.json")}));
    CHECK_MESSAGE(several.status == 1, several.err);
    CHECK(several.err == "");
    CHECK(read_file(folder.file("several.json")) == json);
    std::size_t at = 0;
    for (int i = 0; i < 6; ++i) {
      // The one that fails is told of in full, with the sentence of its failure before the next one begins.
      const auto line = i == 3 ? "\nStory 3\n" : "PASSED  Story " + std::to_string(i) + " (";
      const auto next = several.out.find(line, at);
      CHECK_MESSAGE(next != std::string::npos, (line + " in order in:\n" + several.out));
      if (next != std::string::npos) at = next;
    }
    CHECK(several.out.find("5 of 6 rehearsals passed") != std::string::npos);
  }
}

TEST_CASE("rehearsals on the wall clock run side by side, each on lines of its own") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  std::vector<std::string> words{"rehearse", "-j", "3"};
  const std::string rest = "clock: wall\nends: 1500 ms\n" + SmallStory::master() + SmallStory::expects_half();
  for (int i = 0; i < 3; ++i)
    words.push_back(story.write("wall-" + std::to_string(i) + ".yaml", "Wall " + std::to_string(i), rest));
  const auto run = run_emberline(words);
  CHECK_MESSAGE(run.status == 0, (run.out + run.err));
  CHECK(run.out.find("3 of 3 rehearsals passed") != std::string::npos);
}

TEST_CASE("-j without a number takes no file for one") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto one = story.stepped("one.yaml", "One");
  const auto two = story.stepped("two.yaml", "Two");
  for (const auto& words : std::vector<std::vector<std::string>>{{"rehearse", "-j", one, two},
                                                                 {"rehearse", one, two, "-j"},
                                                                 {"rehearse", one, "--jobs", two},
                                                                 {"rehearse", "-j2", one, two}}) {
    const auto run = run_emberline(words);
    CHECK_MESSAGE(run.status == 0, run.err);
    CHECK(run.out.find("2 of 2 rehearsals passed") != std::string::npos);
  }
}

TEST_CASE("a story on the wall clock runs beside stepped ones that keep every core busy") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto wall = story.write(
      "wall.yaml", "Wall", "clock: wall\nends: 500 ms\n" + SmallStory::master() + SmallStory::expects_half());
  const auto run = run_emberline({"rehearse", "-j", "2", "--json", folder.file("out.json"), wall,
                                  story.stepped("one.yaml", "One"), story.stepped("two.yaml", "Two")});
  CHECK_MESSAGE(run.status == 0, (run.out + run.err));
  // It comes last, and stands where it was asked for all the same.
  CHECK(run.out.find("PASSED  Wall") > run.out.find("PASSED  Two"));
  CHECK(run.out.find("PASSED  Wall") != std::string::npos);
  const auto json = read_file(folder.file("out.json"));
  CHECK(json.find("\"scenario\":\"Wall\"") < json.find("\"scenario\":\"One\""));
}
