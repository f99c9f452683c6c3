#include <algorithm>
#include <string>

#include <doctest/doctest.h>

#include "tests/support/process.hpp"

using emberline::testing::run_emberline;
using emberline::testing::TemporaryFolder;

namespace {

const std::string kSource = EMBERLINE_SOURCE_DIR;

/// A small bench that loads; cases break one line of it.
std::string bench_text() {
  return "bench: Small\n"
         "supply: { system: single-phase, voltage: 230 V, frequency: 50 Hz }\n"
         "lines:\n"
         "  desk: { tcp: 127.0.0.1:0 }\n"
         "units:\n"
         "  heater:\n"
         "    id: 1\n"
         "    lines: [desk]\n"
         "    registers: " +
         kSource +
         "/config/registers/short-blocks.yaml\n"
         "    rating: { voltage: 230 V, current: 16 A }\n"
         "    firing: { mode: phase-angle }\n"
         "    control: { variable: open-loop }\n"
         "    comms_loss: { timeout: 5 s, policy: hold-last-command }\n"
         "    load: { cold_resistance: 20 ohm }\n";
}

std::string replaced(std::string text, const std::string& what, const std::string& with) {
  const auto at = text.find(what);
  REQUIRE(at != std::string::npos);
  return text.replace(at, what.size(), with);
}

std::size_t lines_in(const std::string& text) {
  return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
}

}  // namespace

TEST_CASE("the small bench is good, so that each case below fails for its own reason") {
  const TemporaryFolder folder;
  const auto checked = run_emberline({"check", folder.write("bench.yaml", bench_text())});
  CHECK_MESSAGE(checked.status == 0, checked.err);
}

TEST_CASE("each mistake in a bench is one line with its place, and exit status 2") {
  struct Case {
    const char* what;
    const char* line;
    const char* with;
    const char* place;
    const char* words;
  };
  const Case cases[] = {
      {"YAML that does not parse", "  desk: { tcp: 127.0.0.1:0 }", "  desk: { tcp: 127.0.0.1:0",
       "bench.yaml:", ""},
      {"duplicate key", "    id: 1\n", "    id: 1\n    id: 2\n", "bench.yaml:8:5:", "id"},
      {"wrong unit of measure", "voltage: 230 V, frequency", "voltage: 230 A, frequency",
       "bench.yaml:2:42:", "400 V"},
      {"missing unit of measure", "timeout: 5 s", "timeout: 5", "bench.yaml:13:28:", "no unit of measure"},
      {"unknown key", "    rating:", "    ratnig:", "bench.yaml:10:5:", "rating"},
      {"unknown line", "lines: [desk]", "lines: [dsek]", "bench.yaml:8:13:", "desk"},
      {"id 300", "id: 1", "id: 300", "bench.yaml:7:9:", "247"},
      {"negative resistance", "20 ohm", "-20 ohm", "bench.yaml:14:30:", "-20 ohm"},
      {"no timeout", "timeout: 5 s, ", "", "bench.yaml:13:", "timeout"},
  };
  for (const auto& row : cases) {
    CAPTURE(row.what);
    const TemporaryFolder folder;
    const auto file = folder.write("bench.yaml", replaced(bench_text(), row.line, row.with));
    for (const char* command : {"check", "serve"}) {
      const auto finished = run_emberline({command, file});
      CHECK(finished.status == 2);
      CHECK_MESSAGE(finished.err.find(row.place) != std::string::npos, finished.err);
      CHECK_MESSAGE(finished.err.find(row.words) != std::string::npos, finished.err);
      CHECK(finished.out.empty());
      // A misspelt key is also a missing one; both are said.
      CHECK_MESSAGE(lines_in(finished.err) <= 2, finished.err);
    }
  }
}

TEST_CASE("two units with one id on a line are refused, naming the other") {
  const TemporaryFolder folder;
  auto second = bench_text().substr(bench_text().find("  heater:"));
  second = replaced(second, "heater:", "second:");
  const auto finished = run_emberline({"check", folder.write("bench.yaml", bench_text() + second)});
  CHECK(finished.status == 2);
  CHECK(lines_in(finished.err) == 1);
  CHECK_MESSAGE(finished.err.find("heater") != std::string::npos, finished.err);
}

TEST_CASE(
    "files that are not there, flags that do not exist and commands nobody knows are one line and exit "
    "status 2") {
  const std::vector<std::vector<std::string>> cases = {
      {"check", "/nowhere/bench.yaml"},
      {"serve", "/nowhere/bench.yaml"},
      {"rehearse", "/nowhere/story.yaml"},
      {"registers", "/nowhere/table.yaml"},
      {"check", "/"},
      {"serve", "--no-such-flag", "x"},
      {"dance"},
      {},
      {"rehearse", "--seed", "many", "x.yaml"},
      {"rehearse", "--seed", "-1", "x.yaml"},
      {"rehearse", "--seed", "99999999999999999999999", "x.yaml"},
      {"rehearse", "--report", "x.html", "x.yaml"},
      {"serve", "--plant-speed", "0", "x.yaml"},
      {"check"},
      {"tell", "/nowhere/bench.yaml"},
      {"read", "--registers", kSource + "/config/registers/short-blocks.yaml", "nowhere", "1", "state"},
      {"read", "--registers", kSource + "/config/registers/short-blocks.yaml", "/dev/null", "300", "state"},
      {"read", "--registers", kSource + "/config/registers/short-blocks.yaml", "127.0.0.1:9", "1", "sate"},
      {"write", "--registers", kSource + "/config/registers/short-blocks.yaml", "127.0.0.1:9", "1",
       "state=3"},
      {"write", "--registers", kSource + "/config/registers/short-blocks.yaml", "127.0.0.1:9", "1",
       "setpoint=50"},
      {"write", "--registers", kSource + "/config/registers/short-blocks.yaml", "127.0.0.1:9", "1",
       "setpoint"},
      {"read", "--registers", kSource + "/config/registers/short-blocks.yaml", "127.0.0.1:9", "1", "state",
       "--timeout", "soon"},
  };
  for (const auto& words : cases) {
    std::string said;
    for (const auto& word : words) said += word + " ";
    CAPTURE(said);
    const auto finished = run_emberline(words);
    CHECK(finished.status == 2);
    CHECK_MESSAGE(lines_in(finished.err) == 1, finished.err);
    CHECK(finished.out.empty());
  }
}

TEST_CASE("nobody there is exit status 3") {
  const TemporaryFolder folder;
  const auto told = run_emberline({"tell", folder.file("nobody.sock"), "cut field"});
  CHECK(told.status == 3);
  CHECK(lines_in(told.err) == 1);
  const auto table = kSource + "/config/registers/short-blocks.yaml";
  const auto read = run_emberline({"read", "--registers", table, folder.file("no-tty"), "1", "state"});
  CHECK(read.status == 3);
  CHECK(lines_in(read.err) == 1);
}

TEST_CASE("lines that cannot be used are one line: RTU over TCP by read, a serial port that is not there") {
  const TemporaryFolder folder;
  const auto over_tcp =
      folder.write("server.yaml", replaced(bench_text(), "tcp: 127.0.0.1:0", "rtu-tcp: 127.0.0.1:1"));
  const auto read = run_emberline({"read", "--bench", over_tcp, "desk", "heater", "state"});
  CHECK(read.status == 2);
  CHECK(lines_in(read.err) == 1);
  CHECK_MESSAGE(read.err.find("line 'desk' carries RTU frames over TCP") != std::string::npos, read.err);
  const auto port = folder.file("no-adapter");
  const auto serial =
      folder.write("port.yaml", replaced(bench_text(), "tcp: 127.0.0.1:0", "serial-port: " + port));
  CHECK(run_emberline({"check", serial}).status == 0);
  const auto served = run_emberline({"serve", serial, "--control", folder.file("control.sock")});
  CHECK(served.status == 3);
  CHECK_MESSAGE(served.err.find("line desk: " + port + " is not there") != std::string::npos, served.err);
}

TEST_CASE("every command shows its help with examples") {
  for (const char* command : {"serve", "rehearse", "check", "registers", "read", "write", "tell", "watch"}) {
    CAPTURE(command);
    const auto help = run_emberline({command, "--help"});
    CHECK(help.status == 0);
    CHECK(help.out.find(std::string("emberline ") + command) != std::string::npos);
    CHECK(help.out.find("Examples:") != std::string::npos);
  }
  CHECK(run_emberline({"--help"}).status == 0);
  CHECK(run_emberline({"--version"}).out.find("emberline 0.") == 0);
}

TEST_CASE("check counts as an entry what only takes one back") {
  const TemporaryFolder folder;
  const auto text = "scenario: Story\nbench: " + folder.write("bench.yaml", bench_text()) +
                    "\nends: 10 s\n"
                    "timeline:\n"
                    "  - { at: 2 s, cut: desk, for: 1 s }\n"
                    "expect:\n"
                    "  - { name: one, within: 1 s, that: { heater.state: running } }\n";
  const auto finished = run_emberline({"check", folder.write("story.yaml", text)});
  CHECK(finished.status == 0);
  CHECK_MESSAGE(finished.out.find("1 on its timeline") != std::string::npos, finished.out);
}

TEST_CASE("a scenario that names what the bench does not have is refused before anything starts") {
  const TemporaryFolder folder;
  const auto text = "scenario: Story\nbench: " + folder.write("bench.yaml", bench_text()) +
                    "\nends: 10 s\n"
                    "timeline:\n"
                    "  - { at: 5 s, cut: dsek }\n"
                    "expect:\n"
                    "  - { name: one, within: 1 s, that: { heater.stat: running } }\n";
  const auto finished =
      run_emberline({"rehearse", folder.write("story.yaml", text), "--json", folder.file("out.json")});
  CHECK(finished.status == 2);
  CHECK_MESSAGE(finished.err.find("story.yaml:5:") != std::string::npos, finished.err);
  CHECK_MESSAGE(finished.err.find("'desk'") != std::string::npos, finished.err);
  CHECK_MESSAGE(finished.err.find("story.yaml:7:") != std::string::npos, finished.err);
  CHECK_MESSAGE(finished.err.find("heater.state") != std::string::npos, finished.err);
  CHECK(::emberline::testing::read_file(folder.file("out.json")).empty());
}
