#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <signal.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/support/small_story.hpp"

using emberline::testing::Background;
using emberline::testing::emberline_path;
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

TEST_CASE("a result takes the place of a register table or of the state that the run starts from") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto table = folder.write(
      "table.yaml", read_file(std::string(EMBERLINE_SOURCE_DIR) + "/config/registers/short-blocks.yaml"));
  auto bench = read_file(folder.file("bench.yaml"));
  const std::string shipped = std::string(EMBERLINE_SOURCE_DIR) + "/config/registers/short-blocks.yaml";
  folder.write("bench.yaml", bench.replace(bench.find(shipped), shipped.size(), "table.yaml"));
  const auto state = folder.file("state.json");
  const auto first = story.stepped("first.yaml", "First");
  REQUIRE(run_emberline({"rehearse", first, "--save-state", state}).status == 0);
  const auto file =
      story.write("story.yaml", "Story",
                  "ends: 1 s\nstart_from: state.json\n" + SmallStory::master() + SmallStory::expects_half());
  for (const std::string option : {"--json", "--junit", "--report", "--save-state", "--capture"}) {
    for (const auto& input : {table, state}) {
      CAPTURE(option);
      CAPTURE(input);
      const auto before = read_file(input);
      const auto over = run_emberline({"rehearse", file, option, input});
      CHECK(over.status == 2);
      CHECK(lines_in(over.err) == 1);
      CHECK(over.err.find("would be overwritten") != std::string::npos);
      CHECK(read_file(input) == before);
    }
  }
}

TEST_CASE("a run that was stopped in the middle leaves a state, as if the story had led to it") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  // What is expected has been met by then: the verdict alone would be a pass.
  const auto file =
      story.write("story.yaml", "Story",
                  "clock: wall\nends: 20 min\n" + SmallStory::master() +
                      "expect: [ { name: runs, within: 10 s, that: { heater.setpoint: 50 % } } ]\n"
                      "timeline: [ { at: 3 s, ask: Look } ]\n");
  Background running({"rehearse", file, "--by-hand", "--save-state", folder.file("state.json")});
  REQUIRE(running.wait_for_output("NOW: Look."));
  const auto stopped = running.stop(SIGINT);
  CHECK_MESSAGE(stopped.status == 3, (stopped.out + stopped.err));
  CHECK(stopped.err.find("--save-state: " + folder.file("state.json") + " is not written") !=
        std::string::npos);
  CHECK_FALSE(std::filesystem::exists(folder.file("state.json")));
  CHECK(stopped.out.find("\nstopped at ") != std::string::npos);
  CHECK(stopped.out.find(" of 20 min") != std::string::npos);
}

TEST_CASE("a second Ctrl-C does nothing either, or a rehearsal of many small steps cannot be stopped") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto file = story.write("story.yaml", "Story", "ends: 20 min\n" + SmallStory::expects_half());
  Background running({"rehearse", file, "--real-master", "--wait-for-master", "1 h"});
  REQUIRE(running.wait_for_output("--wait-for-master"));
  // Whoever cannot come to an end: here the program stands still, and finds both on waking up.
  for (const int signal : {SIGSTOP, SIGINT, SIGTERM}) REQUIRE(::kill(running.pid(), signal) == 0);
  const auto ended = running.stop(SIGCONT);
  const bool by_the_second = ended.status == 128 + SIGTERM || ended.status == 128 + SIGINT;
  CHECK_MESSAGE(by_the_second, ended.status);
}

TEST_CASE("thousands of repeats that are left out hold up whoever has stopped the run") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto wall = story.write("wall.yaml", "Wall",
                                "clock: wall\nends: 20 min\n" + SmallStory::master() +
                                    "timeline: [ { at: 0 s, ask: Look } ]\n" + SmallStory::expects_half());
  Background running({"rehearse", wall, "--by-hand", "--repeat", "100000"});
  REQUIRE(running.wait_for_output("NOW: Look."));
  const auto stopped = running.stop(SIGINT);
  CHECK(stopped.status == 1);
  CHECK_MESSAGE(stopped.out.find("stopped: 99999 rehearsals were not run") != std::string::npos, stopped.out);
}

TEST_CASE("one rehearsal that the surroundings let down takes the verdicts of the others with it") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto quick = story.write("quick.yaml", "Quick", "ends: 200 ms\n" + SmallStory::expects_half());
  // The bench of the second has a line that cannot be opened.
  auto bench = read_file(folder.file("bench.yaml"));
  const std::string here = "  ethernet: { tcp: 127.0.0.1:0 }\n";
  folder.write("broken.yaml",
               bench.replace(bench.find(here), here.size(),
                             "  ethernet: { serial-port: " + folder.file("no-adapter") + " }\n"));
  const auto broken = folder.write(
      "second.yaml", "scenario: Second\nbench: broken.yaml\nends: 1 s\n" + SmallStory::expects_half());
  const auto run =
      run_emberline({"rehearse", quick, broken, quick, "--real-master", "--wait-for-master", "0 s", "--json",
                     folder.file("out.json"), "--junit", folder.file("out.xml")});
  CHECK_MESSAGE(run.status == 3, (run.out + run.err));
  CHECK_MESSAGE(lines_in(run.err) == 1, run.err);
  const auto xml = read_file(folder.file("out.xml"));
  CHECK(xml.find("tests=\"3\"") != std::string::npos);
  CHECK(xml.find("could not be judged: the surroundings failed") != std::string::npos);
  CHECK(xml.find("could not be judged: the run was stopped before it began") != std::string::npos);
  CHECK(read_file(folder.file("out.json")).find("\"scenario\":\"Second\"") != std::string::npos);
  // Alone it has nothing to tell.
  const auto alone = run_emberline(
      {"rehearse", broken, "--real-master", "--wait-for-master", "0 s", "--json", folder.file("alone.json")});
  CHECK(alone.status == 3);
  CHECK_FALSE(std::filesystem::exists(folder.file("alone.json")));
}

TEST_CASE("a full disk behind standard output passes for a verdict that was told") {
  if (!std::filesystem::exists("/dev/full")) return;
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto file = story.stepped("story.yaml", "Story");
  const auto said = folder.file("said");
  const auto status = std::system(
      ("'" + emberline_path() + "' rehearse '" + file + "' > /dev/full 2> '" + said + "'").c_str());
  CHECK(WEXITSTATUS(status) == 3);
  CHECK(read_file(said).find("standard output cannot be written") != std::string::npos);
  CHECK(lines_in(read_file(said)) == 1);
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
