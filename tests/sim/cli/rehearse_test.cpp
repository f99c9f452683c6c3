#include <string>

#include <doctest/doctest.h>
#include <signal.h>

#include "tests/support/process.hpp"

using emberline::testing::Background;
using emberline::testing::read_file;
using emberline::testing::run_emberline;
using emberline::testing::TemporaryFolder;

namespace {

const std::string kStories = std::string(EMBERLINE_SOURCE_DIR) + "/scenarios/";

}  // namespace

TEST_CASE(
    "two runs of a rehearsal with one seed write the same JSON to the byte, with no trace of place or date") {
  const TemporaryFolder folder;
  for (const char* name : {"first.json", "second.json"}) {
    const auto run = run_emberline(
        {"rehearse", kStories + "cable-pulled-latch.yaml", "--seed", "7", "--json", folder.file(name)});
    CHECK_MESSAGE(run.status == 0, run.out);
  }
  const auto first = read_file(folder.file("first.json"));
  CHECK(first.size() > 1000);
  CHECK(first == read_file(folder.file("second.json")));
  CHECK(first.find(EMBERLINE_SOURCE_DIR) == std::string::npos);
  CHECK(first.find("\"seed\":7") != std::string::npos);
}

TEST_CASE("a verdict of failure is exit status 1 and stands in the JUnit file") {
  const TemporaryFolder folder;
  const auto run =
      run_emberline({"rehearse", kStories + "cable-pulled-latch.yaml",
                     kStories + "must-fail/comes-back-heating.yaml", "--junit", folder.file("verdicts.xml")});
  CHECK(run.status == 1);
  CHECK(run.out.find("1 of 2 rehearsals passed") != std::string::npos);
  CHECK(run.out.find("PASSED  Cable pulled at soak") == 0);  // in one line, which is all there is to say
  CHECK(run.out.find("FAIL  ") != std::string::npos);
  CHECK(run.out.find("no safety validation") != std::string::npos);
  const auto xml = read_file(folder.file("verdicts.xml"));
  CHECK(xml.find("<testsuites name=\"emberline\" tests=\"5\" failures=\"1\" errors=\"0\">") !=
        std::string::npos);
  CHECK(xml.find("type=\"expectation-failed\"") != std::string::npos);
}

TEST_CASE("a rehearsal on the wall clock runs in real time and needs no line of its bench to be free") {
  const auto run = run_emberline({"rehearse", kStories + "first-seconds-in-real-time.yaml"});
  CHECK_MESSAGE(run.status == 0, (run.out + run.err));
}

TEST_CASE("what a stand-in did over a real line is not known as its own, and passes as never done") {
  const TemporaryFolder folder;
  const auto story = folder.write(
      "story.yaml", "scenario: Short story\nbench: " + std::string(EMBERLINE_SOURCE_DIR) +
                        "/config/benches/annealing-lehr.yaml\nclock: wall\nends: 2 s\n"
                        "masters:\n  plc: { lines: [field], program: [ { every: 200 ms, write: { "
                        "soak-heater.setpoint: 50 % "
                        "} } ] }\n"
                        "expect:\n  - { name: writes nothing, no_write: soak-heater.setpoint, by: plc }\n");
  const auto run = run_emberline({"rehearse", story});
  CHECK(run.status == 1);
  CHECK_MESSAGE(run.out.find("expected no write of soak-heater.setpoint") != std::string::npos, run.out);
  CHECK_MESSAGE(run.out.find("it was set to 50 %") != std::string::npos, run.out);
}

TEST_CASE("a rehearsal stopped half way passes nothing and leaves nothing behind") {
  const TemporaryFolder folder;
  const auto story = folder.write(
      "story.yaml",
      "scenario: Long story\nbench: " + std::string(EMBERLINE_SOURCE_DIR) +
          "/config/benches/annealing-lehr.yaml\nclock: wall\nends: 10 min\n"
          "masters:\n  plc: { lines: [field], program: [ { every: 200 ms, read: [soak-heater.state] } ] }\n"
          "expect:\n  - { name: answers, always: { soak-heater.state: { not: unpowered } } }\n");
  Background running({"rehearse", story, "--json", folder.file("out.json")});
  REQUIRE(running.wait_for_output("running on the wall clock"));
  const auto stopped = running.stop(SIGINT);
  CHECK(stopped.status == 1);
  CHECK_MESSAGE(stopped.out.find("could not be judged: the run ended first") != std::string::npos,
                stopped.out);
  CHECK(read_file(folder.file("out.json")).find("\"passed\":false") != std::string::npos);
}

TEST_CASE("no colour where nobody looks") {
  const auto run = run_emberline({"rehearse", kStories + "cable-pulled-latch.yaml"});
  CHECK(run.status == 0);
  CHECK(run.out.find('\x1b') == std::string::npos);
  CHECK(run.out.find("PASSED") != std::string::npos);
}
