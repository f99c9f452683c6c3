#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <signal.h>

#include "tests/support/small_story.hpp"

using emberline::testing::Background;
using emberline::testing::Finished;
using emberline::testing::read_file;
using emberline::testing::run_emberline;
using emberline::testing::SmallStory;
using emberline::testing::TemporaryFolder;

namespace {

Finished ask_for_half(const TemporaryFolder& folder) {
  return run_emberline({"write", "--bench", folder.file("bench.yaml"), "field", "heater", "setpoint=50 %"});
}

}  // namespace

TEST_CASE("time does not begin before the master does, whose first request comes at its very start") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  // Cut at the start of the run: with time running before the master came nothing could reach the unit.
  const auto file =
      story.write("story.yaml", "Story",
                  "ends: 2 s\ntimeline: [ { at: 0 s, cut: field } ]\n"
                  "expect: [ { name: asks for half, within: 0 s, that: { heater.setpoint: 50 % } } ]\n");
  Background running({"rehearse", file, "--real-master", "--json", folder.file("out.json")});
  REQUIRE(running.wait_for_output("Time stands still until the first valid request comes, for at most 60 s"));
  // For an id that nobody has: no such request.
  CHECK(run_emberline({"read", "--registers",
                       std::string(EMBERLINE_SOURCE_DIR) + "/config/registers/short-blocks.yaml", story.link,
                       "9", "state", "--timeout", "100 ms"})
            .status == 3);
  CHECK_FALSE(running.said("running on the wall clock"));
  (void)ask_for_half(folder);  // its answer is lost: the line is cut by then
  REQUIRE(running.wait_for_output("running on the wall clock for 2 s"));
  const auto ended = running.wait();
  CHECK_MESSAGE(ended.status == 0, (ended.out + ended.err));
  CHECK(read_file(folder.file("out.json")).find("\"passed\":true") != std::string::npos);
}

TEST_CASE("a master that never comes leaves every expectation unjudged, and the results say so") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto file = story.write("story.yaml", "Story",
                                "ends: 2 s\nexpect: [ { name: one, never: { heater.state: unpowered } }, "
                                "{ name: two, first_write: { heater.setpoint: { at_most: 50 % } } } ]\n");
  const auto run = run_emberline({"rehearse", file, "--real-master", "--wait-for-master", "100 ms", "--json",
                                  folder.file("out.json"), "--junit", folder.file("out.xml")});
  CHECK_MESSAGE(run.status == 1, (run.out + run.err));
  CHECK(run.out.find("No master came within 0.1 s on field, ethernet") != std::string::npos);
  const auto xml = read_file(folder.file("out.xml"));
  CHECK(xml.find("tests=\"2\" failures=\"2\"") != std::string::npos);
  const std::string said = "could not be judged: no master came within 0.1 s";
  CHECK(xml.find(said) != std::string::npos);
  CHECK(xml.find(said) != xml.rfind(said));
  CHECK(read_file(folder.file("out.json")).find(said) != std::string::npos);
}

TEST_CASE("without a wait time runs at once, master or not") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto file =
      story.write("story.yaml", "Story",
                  "ends: 200 ms\nexpect: [ { name: one, never: { heater.setpoint: { above: 1 % } } } ]\n");
  const auto run = run_emberline({"rehearse", file, "--real-master", "--wait-for-master", "0 s"});
  CHECK_MESSAGE(run.status == 0, (run.out + run.err));
  CHECK(run.out.find("Time stands still") == std::string::npos);
  CHECK(run.out.find("running on the wall clock for 0.2 s") != std::string::npos);
}

TEST_CASE("Ctrl-C while it waits for the master ends it, with nothing judged") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  // At the start all of this holds, and none of it has been shown.
  const auto file = story.write(
      "story.yaml", "Story",
      "ends: 2 s\nexpect: [ { name: one, within: 0 s, that: { heater.setpoint: { below: 1 % } } }, "
      "{ name: two, comes: { heater.setpoint: { above: 1 % } }, at_most: 3 times, within: 0 s } ]\n");
  Background running({"rehearse", file, "--real-master", "--json", folder.file("out.json")});
  REQUIRE(running.wait_for_output("--wait-for-master"));
  const auto stopped = running.stop(SIGINT);
  CHECK(stopped.status == 1);
  CHECK_MESSAGE(
      stopped.out.find("could not be judged: the run was stopped before a master came") != std::string::npos,
      stopped.out);
  CHECK(read_file(folder.file("out.json")).find("\"passed\":false") != std::string::npos);
}

TEST_CASE("repeats with a real master run one after the other, each with a wait of its own") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto file = story.write("story.yaml", "Story", "ends: 300 ms\n" + SmallStory::expects_half());
  Background running({"rehearse", file, "--real-master", "--repeat", "2"});
  REQUIRE(running.wait_for_output("--wait-for-master"));
  CHECK(ask_for_half(folder).status == 0);
  REQUIRE(running.wait_for_output("PASSED  Story (seed 1)"));
  REQUIRE(running.wait_for_output("--wait-for-master", 2));
  CHECK(ask_for_half(folder).status == 0);
  const auto ended = running.wait();
  CHECK_MESSAGE(ended.status == 0, (ended.out + ended.err));
  CHECK(ended.out.find("2 of 2 rehearsals passed") != std::string::npos);
}

TEST_CASE("what a human is asked to do is done by the human alone, and counts from when it is confirmed") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto file = story.write("story.yaml", "Story",
                                "clock: wall\nends: 20 min\n" + SmallStory::master() +
                                    "timeline:\n"
                                    "  - { at: 0 s, name: pulled, ask: Pull the field cable, cut: field }\n"
                                    "  - { at: 0 s, name: opened, ask: Open the door! }\n"
                                    "expect:\n"
                                    "  - { name: pulled by hand, after: { entry: pulled }, within: 0 s, "
                                    "that: { heater.state: { not: unpowered } } }\n"
                                    "  - { name: opened by hand, after: { entry: opened }, within: 0 s, "
                                    "that: { heater.state: { not: unpowered } } }\n");
  Background running({"rehearse", file, "--by-hand"});
  REQUIRE(running.wait_for_output("NOW: Pull the field cable. Press Enter, then do it at once.\n"));
  REQUIRE(running.wait_for_output("NOW: Open the door! Press Enter, then do it at once.\n"));
  running.type("");
  REQUIRE(running.wait_for_output("Done: Pull the field cable. Still open: Open the door!\n"));
  const auto stopped = running.stop(SIGINT);
  CHECK_MESSAGE(stopped.status == 1, (stopped.out + stopped.err));
  CHECK_MESSAGE(stopped.out.find("PASS  pulled by hand") != std::string::npos, stopped.out);
  CHECK_MESSAGE(stopped.out.find("FAIL  opened by hand") != std::string::npos, stopped.out);
  CHECK(stopped.out.find("could not be judged") != std::string::npos);
  CHECK(stopped.out.find("cable pulled") == std::string::npos);  // by the bench, that would be
}

TEST_CASE("without anybody at the terminal the story goes on, and what hangs on the hand is not judged") {
  const TemporaryFolder folder;
  const SmallStory story(folder);
  const auto file = story.write(
      "story.yaml", "Story",
      "clock: wall\nends: 3 s\n" + SmallStory::master() +
          "timeline: [ { at: 2 s, ask: Pull the field cable, cut: field }, { at: 2 s, ask: Wait } ]\n"
          "expect: [ { name: seen, after: { cut: field }, within: 100 ms, that: { heater.state: inhibited } "
          "} ]\n");
  const auto run = run_emberline({"rehearse", file, "--by-hand"});
  CHECK(run.status == 1);
  const std::string said = "Standard input has ended: nobody can confirm";
  CHECK(run.out.find(said) != std::string::npos);
  CHECK(run.out.find(said) == run.out.rfind(said));
  CHECK_MESSAGE(run.out.find("NOW: Pull the field cable.\n") != std::string::npos, run.out);
  CHECK_MESSAGE(run.out.find("could not be judged") != std::string::npos, run.out);
}
