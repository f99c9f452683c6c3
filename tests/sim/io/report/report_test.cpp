#include "sim/io/report/report.hpp"

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

#include <boost/json.hpp>
#include <doctest/doctest.h>
#include <unistd.h>

using namespace emberline;
using namespace std::chrono_literals;
using rehearsal::Outcome;

namespace {

rehearsal::Verdict verdict() {
  rehearsal::Verdict made;
  made.title = "Cable <pulled> & \"plugged\"";
  made.file_stem = "cable-pulled";
  made.why = "Because.";
  made.seed = 3;
  made.ended = SimTime{60s};
  made.outcomes = {{"heats", Outcome::Result::passed, "always so", SimTime{20s}},
                   {"heats", Outcome::Result::failed, "expected heat; it was cold\x01", SimTime{30500ms}},
                   {"ends", Outcome::Result::not_judged, "could not be judged: the run ended first, at 60 s",
                    SimTime{60s}}};
  made.journal = {{SimTime{20s}, "field", "cable pulled"},
                  {SimTime{23s}, "heater", "state running -> inhibited"}};
  made.closest_calls = {{"heater", 2s + 15ms, 3s}};
  made.transactions = 95;
  return made;
}

std::string content_of(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

}  // namespace

TEST_CASE("JUnit: counts, escapes, unique names, both kinds of failure, attributes of the strict schema") {
  // Shape: the Ant-derived JUnit schema as CI servers bundle it (junit-10.xsd): package, id, hostname,
  // timestamp and counts on each suite.
  const auto expected = content_of(EMBERLINE_SOURCE_DIR "/tests/sim/io/report/verdicts.xml");
  CHECK(io::junit_xml({verdict()}, "2031-05-06T07:08:09") == expected);
}

TEST_CASE("JSON holds the verdict, the journal and the closest calls in simulated seconds") {
  const auto parsed = boost::json::parse(io::verdicts_json({verdict()})).as_object();
  CHECK_FALSE(parsed.at("passed").as_bool());
  const auto& run = parsed.at("rehearsals").as_array().at(0).as_object();
  CHECK(run.at("file").as_string() == "cable-pulled");
  CHECK(run.at("ended").to_number<double>() == 60.0);
  const auto& outcomes = run.at("expectations").as_array();
  CHECK(outcomes.at(0).as_object().at("result").as_string() == "passed");
  CHECK(outcomes.at(1).as_object().at("at").to_number<double>() == 30.5);
  CHECK(outcomes.at(2).as_object().at("result").as_string() == "could not be judged");
  CHECK(run.at("journal").as_array().at(1).as_object().at("at").to_number<double>() == 23.0);
  CHECK(run.at("closest_calls").as_array().at(0).as_object().at("longest_gap").to_number<double>() ==
        doctest::Approx(2.015));
}

TEST_CASE("the terminal report names every expectation and paints only where asked") {
  const auto plain = io::terminal_report(verdict(), false);
  CHECK(plain.find('\x1b') == std::string::npos);
  CHECK(plain.find("  PASS  heats\n        always so\n") != std::string::npos);
  CHECK(plain.find("FAILED  1 of 3 expectations met in 60 s of simulated time, 95 requests, seed 3") !=
        std::string::npos);
  CHECK(plain.find(" 0:00:23.000  heater  state running -> inhibited") != std::string::npos);
  CHECK(plain.find("closest call: heater waited 2.015 s for a request, its timeout is 3 s") !=
        std::string::npos);
  CHECK(io::terminal_report(verdict(), true).find("\x1b[31mFAILED") != std::string::npos);
}

TEST_CASE("a long journal is cut in the middle, and the report says by how much") {
  auto many = verdict();
  many.journal.clear();
  for (int i = 0; i < 100; ++i)
    many.journal.push_back({SimTime{i * 1s}, "field", "entry " + std::to_string(i) + "."});
  const auto text = io::terminal_report(many, false);
  CHECK(text.find("entry 19.") != std::string::npos);
  CHECK(text.find("entry 20.") == std::string::npos);
  CHECK(text.find("60 more entries") != std::string::npos);
  CHECK(text.find("entry 80.") != std::string::npos);
}

TEST_CASE("the ready file names every line's place, and null where there is none") {
  const auto text = io::ready_json({{"field", bench::LineKind::pty, "/dev/pts/9", "", 0},
                                    {"ethernet", bench::LineKind::tcp, "", "127.0.0.1", 1502}},
                                   std::nullopt);
  CHECK(
      text ==
      R"({"lines":{"field":{"kind":"pty","path":"/dev/pts/9"},"ethernet":{"kind":"tcp","host":"127.0.0.1","port":1502}},"control":null,"panel":null})"
      "\n");
}

TEST_CASE("a file is written whole or not at all, and no half of it is left behind") {
  std::string folder = std::filesystem::temp_directory_path() / "emberline-report-XXXXXX";
  REQUIRE(::mkdtemp(folder.data()) != nullptr);
  const auto path = folder + "/out.json";
  CHECK(io::write_whole(path, "first"));
  CHECK(io::write_whole(path, "second"));
  CHECK(content_of(path) == "second");
  const auto failed = io::write_whole(folder + "/nowhere/out.json", "x");
  REQUIRE_FALSE(failed);
  CHECK(failed.error().find("/nowhere/out.json") != std::string::npos);
  std::filesystem::create_directory(folder + "/taken");
  CHECK_FALSE(io::write_whole(folder + "/taken", "x"));
  std::size_t files = 0;
  for ([[maybe_unused]] const auto& entry : std::filesystem::directory_iterator(folder)) ++files;
  CHECK(files == 2);
  std::filesystem::remove_all(folder);
}
