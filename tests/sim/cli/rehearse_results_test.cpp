#include <filesystem>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <signal.h>
#include <sys/stat.h>
#include <unistd.h>

#include "tests/support/small_story.hpp"

using emberline::testing::Background;
using emberline::testing::read_file;
using emberline::testing::run_emberline;
using emberline::testing::SmallStory;
using emberline::testing::TemporaryFolder;

namespace {

std::size_t lines_in(const std::string& text) {
  std::size_t count = 0;
  for (const char c : text) count += c == '\n' ? 1 : 0;
  return count;
}

/// What lies in a folder besides the files of the story.
std::vector<std::string> left_in(const std::string& folder) {
  std::vector<std::string> names;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    const auto name = entry.path().filename().string();
    if (name != "bench.yaml" && name != "story.yaml") names.push_back(name);
  }
  return names;
}

}  // namespace

TEST_CASE("a results file that cannot be written is said before anything runs") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto file = story.stepped("story.yaml", "Story");
  std::filesystem::create_directory(folder.file("there"));
  REQUIRE(::mkfifo(folder.file("pipe").c_str(), 0600) == 0);
  for (const std::string option : {"--junit", "--json", "--capture"}) {
    for (const std::string& place : {folder.file("missing/out"), folder.file("there"), folder.file("pipe")}) {
      CAPTURE(option);
      CAPTURE(place);
      const auto run = run_emberline({"rehearse", file, option, place});
      CHECK(run.status == 3);
      CHECK(run.out == "");
      CHECK(lines_in(run.err) == 1);
      CHECK(run.err.find(option + ": " + place) != std::string::npos);
    }
  }
  CHECK_FALSE(std::filesystem::exists(folder.file("missing")));
  CHECK(std::filesystem::is_fifo(folder.file("pipe")));
}

TEST_CASE("two results for one file, and a result in the place of an input, are refused") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto file = story.stepped("story.yaml", "Story");
  std::filesystem::create_directory_symlink(folder.file("."), folder.file("by-another-name"));
  const auto linked = run_emberline(
      {"rehearse", file, "--junit", folder.file("out"), "--json", folder.file("by-another-name/out")});
  CHECK(linked.status == 2);
  CHECK(lines_in(linked.err) == 1);
  CHECK(linked.err.find("--json: ") != std::string::npos);
  CHECK(linked.err.find("--junit writes too") != std::string::npos);
  for (const std::string& input : {file, folder.file("bench.yaml")}) {
    const auto before = read_file(input);
    const auto over = run_emberline({"rehearse", file, "--json", input});
    CHECK(over.status == 2);
    CHECK(lines_in(over.err) == 1);
    CHECK(over.err.find("would be overwritten") != std::string::npos);
    CHECK(read_file(input) == before);
  }
}

TEST_CASE("a run that is stopped writes its results whole, and what was not run any more counts as failed") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto file =
      story.write("story.yaml", "Story",
                  "clock: wall\nends: 20 min\n" + SmallStory::master() +
                      "expect: [ { name: goes on, always: { heater.state: { not: unpowered } } } ]\n");
  const auto quick = story.stepped("quick.yaml", "Quick");
  Background running(
      {"rehearse", quick, file, file, "--json", folder.file("out.json"), "--junit", folder.file("out.xml")});
  REQUIRE(running.wait_for_output("PASSED  Quick"));
  const auto stopped = running.stop(SIGINT);
  CHECK_MESSAGE(stopped.status == 1, (stopped.out + stopped.err));
  CHECK_MESSAGE(stopped.out.find("not run and count") != std::string::npos, stopped.out);
  CHECK(stopped.out.find("1 of 3 rehearsals passed") != std::string::npos);
  const auto xml = read_file(folder.file("out.xml"));
  CHECK(xml.find("tests=\"3\" failures=\"2\"") != std::string::npos);
  CHECK(read_file(folder.file("out.json")).find("could not be judged") != std::string::npos);
}

TEST_CASE("a rehearsal killed half way leaves no half-written result and no link that stops the next run") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto file = story.write("story.yaml", "Story", "ends: 2 s\n" + SmallStory::expects_half());
  const std::vector<std::string> words{"rehearse",
                                       file,
                                       "--real-master",
                                       "--json",
                                       folder.file("out.json"),
                                       "--junit",
                                       folder.file("out.xml")};
  for (int times = 0; times < 2; ++times) {
    Background killed(words);
    REQUIRE(killed.wait_for_output("field: waiting for your master at " + story.link));
    REQUIRE(killed.wait_for_output("--wait-for-master"));
    if (times == 1) {  // in mid-run
      const auto came =
          run_emberline({"read", "--bench", folder.file("bench.yaml"), "field", "heater", "state"});
      REQUIRE_MESSAGE(came.status == 0, came.err);
      REQUIRE(killed.wait_for_output("running on the wall clock"));
    }
    CHECK(killed.stop(SIGKILL).status == 128 + SIGKILL);
    // As a cable left hanging: the link is still there, and leads nowhere, or to somebody else's terminal.
    CHECK(std::filesystem::is_symlink(story.link));
    CHECK(left_in(folder.file(".")) == std::vector<std::string>{"lines"});
  }
  Background next(words);
  REQUIRE(next.wait_for_output("--wait-for-master"));
  const auto asked =
      run_emberline({"write", "--bench", folder.file("bench.yaml"), "field", "heater", "setpoint=50 %"});
  CHECK_MESSAGE(asked.status == 0, asked.err);
  const auto ended = next.wait();
  CHECK_MESSAGE(ended.status == 0, (ended.out + ended.err));
  CHECK(read_file(folder.file("out.json")).find("\"passed\":true") != std::string::npos);
  CHECK(read_file(folder.file("out.xml")).find("failures=\"0\"") != std::string::npos);
  CHECK_FALSE(std::filesystem::exists(std::filesystem::symlink_status(story.link)));
  CHECK(left_in(folder.file(".")).size() == 3);
}

TEST_CASE("a state that was saved is what a later run starts from, and one that never began leaves none") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto heats =
      story.write("heats.yaml", "Heats", "ends: 60 s\n" + SmallStory::master() + SmallStory::expects_half());
  const auto saved = run_emberline({"rehearse", heats, "--save-state", folder.file("hot.json")});
  REQUIRE_MESSAGE(saved.status == 0, saved.err);
  const auto goes_on =
      story.write("goes-on.yaml", "Goes on",
                  "ends: 1 s\nstart_from: hot.json\n"
                  "expect: [ { name: warm, always: { oven.temperature: { above: 26 degC } } } ]\n");
  const auto warm = run_emberline({"rehearse", goes_on});
  CHECK_MESSAGE(warm.status == 0, (warm.out + warm.err));
  const auto none = run_emberline({"rehearse", heats, "--real-master", "--wait-for-master", "50 ms",
                                   "--save-state", folder.file("none.json")});
  CHECK(none.status == 1);
  CHECK_FALSE(std::filesystem::exists(folder.file("none.json")));
}
