#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <sstream>
#include <string>
#include <vector>

#include <doctest/doctest.h>
#include <poll.h>
#include <pty.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/support/process.hpp"

using emberline::testing::emberline_path;
using emberline::testing::read_file;
using emberline::testing::run_emberline;
using emberline::testing::TemporaryFolder;

namespace {

namespace fs = std::filesystem;
using Words = std::vector<std::string>;

constexpr const char* kFiles[] = {"bench.yaml", "registers.yaml", "cable-pulled.yaml"};

Words with(Words words, const Words& more) {
  words.insert(words.end(), more.begin(), more.end());
  return words;
}

std::size_t lines_in(const std::string& text) {
  return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
}

bool holds(const std::string& text, const std::string& what) { return text.find(what) != std::string::npos; }

/// Checks and rehearses what stands in a folder.
void check_good(const std::string& folder) {
  Words check{"check"};
  for (const auto* file : kFiles) check.push_back(folder + "/" + file);
  const auto checked = run_emberline(check);
  CHECK_MESSAGE(checked.status == 0, checked.err);
  const auto rehearsed = run_emberline({"rehearse", folder + "/cable-pulled.yaml"});
  CHECK_MESSAGE(rehearsed.status == 0, (rehearsed.out + rehearsed.err));
}

/// What an `emberline` at a terminal showed, and how it ended.
struct Talk {
  int status = -1;
  std::string shown;
};

/// Types each answer when the program has asked once more; "" is Enter alone.
Talk talk(const Words& arguments, const Words& answers) {
  int terminal = -1;
  const pid_t child = ::forkpty(&terminal, nullptr, nullptr, nullptr);
  REQUIRE(child >= 0);
  if (child == 0) {
    Words words{emberline_path()};
    words.insert(words.end(), arguments.begin(), arguments.end());
    std::vector<char*> argv;
    for (auto& word : words) argv.push_back(word.data());
    argv.push_back(nullptr);
    ::execv(argv[0], argv.data());
    ::_exit(127);
  }
  Talk result;
  std::size_t typed = 0;
  std::size_t seen = 0;  // of what is shown, up to the last prompt that was answered
  char buffer[4096];
  for (;;) {
    pollfd ready{terminal, POLLIN, 0};
    if (::poll(&ready, 1, 120'000) <= 0) break;  // only a program that hangs waits so long
    const auto count = ::read(terminal, buffer, sizeof buffer);
    if (count <= 0) break;  // the program has ended
    result.shown.append(buffer, static_cast<std::size_t>(count));
    const auto prompt = result.shown.find("\n  [", seen);
    if (prompt == std::string::npos || !result.shown.ends_with("] ")) continue;
    seen = result.shown.size();
    const std::string line = typed < answers.size() ? answers[typed] + "\n" : "\x04";  // end of input
    ++typed;
    if (::write(terminal, line.data(), line.size()) != static_cast<ssize_t>(line.size())) break;
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  ::close(terminal);
  result.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128;
  return result;
}

}  // namespace

TEST_CASE("for each policy the new files pass check and rehearse as they stand") {
  for (const char* policy : {"hold-last-command", "latch-to-inhibit", "go-to-preset"}) {
    CAPTURE(policy);
    const TemporaryFolder folder;
    const auto made = run_emberline({"new", folder.file("mine"), "--policy", policy, "--yes"});
    CHECK_MESSAGE(made.status == 0, made.err);
    check_good(folder.file("mine"));
    CHECK(holds(read_file(folder.file("mine/bench.yaml")), std::string("policy: ") + policy));
  }
}

TEST_CASE("odd answers make good files too") {
  const std::vector<Words> cases = {
      {"--name", "Hall 2: \"north\" # bay \\ 7, k\xC3\xBChl", "--units", "3"},
      {"--name", "42"},
      {"--voltage", "230 V", "--system", "single-phase", "--rating", "16 A", "--frequency", "60 Hz"},
      {"--voltage", "24 V", "--system", "single-phase", "--rating", "1 A"},
      {"--voltage", "690 V", "--rating", "5 kA", "--frequency", "16.7 Hz"},
      {"--line", "127.0.0.1:0", "--units", "32", "--timeout", "10 min", "--policy", "hold-last-command"},
      {"--line", "[::1]:1502", "--timeout", "200 ms", "--policy", "go-to-preset", "--preset", "0 %"},
      {"--line", "/tmp/emberline with blanks/field", "--serial", "1200 8N2", "--timeout", "7.5 s", "--units",
       "2"},
      {"--serial", "115200 8O1", "--timeout", "1.25 s", "--units", "4", "--id", "244"},
      {"--units", "32", "--serial", "19200 8E1", "--timeout", "6 s", "--policy", "go-to-preset", "--preset",
       "50 %"},
      {"--line", "/dev/ttyUSB7", "--serial", "9600 8N2", "--policy", "hold-last-command"},
      {"--numbering", "one-based", "--policy", "go-to-preset"},
      {"--numbering", "reference", "--units", "2", "--policy", "hold-last-command"},
  };
  for (const auto& words : cases) {
    std::string said;
    for (const auto& word : words) said += word + " ";
    CAPTURE(said);
    const TemporaryFolder folder;
    const auto made = run_emberline(with({"new", folder.file("a b/mine"), "--yes"}, words));
    CHECK_MESSAGE(made.status == 0, made.err);
    CHECK(made.err.empty());
    check_good(folder.file("a b/mine"));
  }
}

TEST_CASE("what is said to be next can be done as it stands") {
  const TemporaryFolder folder;
  const auto made = run_emberline({"new", folder.file("new kiln"), "--yes"});
  REQUIRE(made.status == 0);
  std::istringstream lines(made.out);
  int commands = 0;
  for (std::string line; std::getline(lines, line);) {
    if (!line.starts_with("  emberline ")) continue;
    ++commands;
    if (line.starts_with("  emberline serve")) continue;  // answers until it is told to stop
    const auto command = "'" + emberline_path() + "'" + line.substr(11) + " > /dev/null 2>&1";
    CAPTURE(command);
    CHECK(std::system(command.c_str()) == 0);
  }
  CHECK(commands == 3);
}

TEST_CASE("an answer that cannot be used is one line and status 2, and nothing is written") {
  struct Case {
    Words words;
    const char* says;
  };
  const Case cases[] = {
      {{"--units", "x"}, "--units: expected a whole number from 1 to 32, found 'x'"},
      {{"--units", "0"}, "--units"},
      {{"--units", "2.5"}, "--units"},
      {{"--timeout", "0 s"}, "--timeout: expected 0.2 s to 600 s, found '0 s'"},
      {{"--timeout", "3"}, "no unit of measure"},
      {{"--timeout", "soon"}, "--timeout"},
      {{"--id", "0"}, "--id: expected a whole number from 1 to 247, found '0'"},
      {{"--id", "248"}, "--id"},
      {{"--id", "246", "--units", "3"}, "3 units from id 246 on go past the last id, 247"},
      {{"--policy", "latch"}, "--policy: expected one of hold-last-command, latch-to-inhibit, go-to-preset"},
      {{"--policy", "latch-to-inhibt"}, "did you mean 'latch-to-inhibit'?"},
      {{"--preset", "20 %"}, "only go-to-preset has a preset"},
      {{"--policy", "go-to-preset", "--preset", "120 %"}, "--preset"},
      {{"--voltage", "400 A"}, "--voltage"},
      {{"--voltage", "0 V"}, "--voltage"},
      {{"--system", "two-phase"}, "--system"},
      {{"--frequency", "5 Hz"}, "--frequency"},
      {{"--rating", "-5 A"}, "--rating"},
      {{"--line", "field"}, "--line: expected a path"},
      {{"--line", "127.0.0.1:99999"}, "--line"},
      {{"--line", "300.1.1.1:1502"}, "host"},
      {{"--line", "127.0.0.1:1502", "--serial", "9600 8N1"}, "--serial: a TCP line has no speed"},
      {{"--serial", "9601 8E1"}, "--serial"},
      {{"--numbering", "two-based"}, "--numbering"},
      {{"--name", ""}, "--name"},
      {{"--name", "two\nlines"}, "--name"},
      {{"--name", "\xFF\xFE"}, "UTF-8"},
      {{"--units", "32", "--serial", "1200 8E1"}, "which is too long for a timeout of 3 s"},
      {{"--colour", "red"}, "--colour"},
  };
  for (const auto& row : cases) {
    CAPTURE(std::string(row.says));
    const TemporaryFolder folder;
    const auto made = run_emberline(with({"new", folder.file("mine"), "--yes"}, row.words));
    CHECK(made.status == 2);
    CHECK_MESSAGE(lines_in(made.err) == 1, made.err);
    CHECK_MESSAGE(holds(made.err, row.says), made.err);
    CHECK(made.out.empty());
    CHECK_FALSE(fs::exists(folder.file("mine")));
  }
}

TEST_CASE("without a terminal nothing is assumed: what is missing is named, and --yes is the way out") {
  const TemporaryFolder folder;
  const auto made = run_emberline({"new", folder.file("mine"), "--name", "Kiln", "--units", "2"});
  CHECK(made.status == 2);
  CHECK(lines_in(made.err) == 1);
  CHECK_MESSAGE(holds(made.err, "give --voltage, --system"), made.err);
  CHECK(holds(made.err, "--yes"));
  CHECK_FALSE(fs::exists(folder.file("mine")));
  const auto all = run_emberline({"new",         folder.file("mine"),
                                  "--name",      "Kiln",
                                  "--voltage",   "400 V",
                                  "--system",    "three-phase",
                                  "--frequency", "50 Hz",
                                  "--units",     "1",
                                  "--rating",    "40 A",
                                  "--line",      "/tmp/emberline/k",
                                  "--serial",    "9600 8E1",
                                  "--policy",    "latch-to-inhibit",
                                  "--timeout",   "4 s",
                                  "--id",        "7",
                                  "--numbering", "one-based"});
  CHECK_MESSAGE(all.status == 0, all.err);
  check_good(folder.file("mine"));
}

TEST_CASE("without a terminal only what has a place beside the other flags is asked for") {
  const Words tcp_preset{"--name",       "Kiln",        "--voltage", "400 V",          "--system",
                         "three-phase",  "--frequency", "50 Hz",     "--units",        "1",
                         "--rating",     "40 A",        "--line",    "127.0.0.1:1502", "--policy",
                         "go-to-preset", "--timeout",   "4 s",       "--id",           "7",
                         "--numbering",  "one-based"};
  const TemporaryFolder folder;
  const auto made = run_emberline(with({"new", folder.file("mine")}, tcp_preset));
  CHECK(made.status == 2);
  CHECK_MESSAGE(holds(made.err, "give --preset too"), made.err);
  const auto all = run_emberline(with(with({"new", folder.file("mine")}, tcp_preset), {"--preset", "5 %"}));
  CHECK_MESSAGE(all.status == 0, all.err);
  check_good(folder.file("mine"));
}

TEST_CASE("a file that is there is never written over, and then none of the three is written") {
  for (const auto* file : kFiles) {
    CAPTURE(std::string(file));
    const TemporaryFolder folder;
    folder.write(file, "precious\n");
    const auto made = run_emberline({"new", folder.file("."), "--yes"});
    CHECK(made.status == 2);
    CHECK(lines_in(made.err) == 1);
    CHECK_MESSAGE(holds(made.err, file), made.err);
    CHECK(read_file(folder.file(file)) == "precious\n");
    CHECK(std::distance(fs::directory_iterator(folder.file(".")), {}) == 1);
  }
  const TemporaryFolder folder;
  REQUIRE(run_emberline({"new", folder.file("mine"), "--yes"}).status == 0);
  const auto before = read_file(folder.file("mine/bench.yaml"));
  const auto again = run_emberline({"new", folder.file("mine"), "--units", "5", "--yes"});
  CHECK(again.status == 2);
  for (const auto* file : kFiles) CHECK_MESSAGE(holds(again.err, file), again.err);
  CHECK(read_file(folder.file("mine/bench.yaml")) == before);
}

TEST_CASE("a folder that cannot be had is one line, and nothing is left behind") {
  const TemporaryFolder folder;
  folder.write("plain", "a file\n");
  struct Case {
    std::string folder;
    int status;
  };
  const Case cases[] = {
      {folder.file("plain"), 2}, {folder.file("plain/below"), 3}, {"/proc/nowhere/mine", 3}};
  for (const auto& row : cases) {
    CAPTURE(row.folder);
    const auto made = run_emberline({"new", row.folder, "--yes"});
    CHECK(made.status == row.status);
    CHECK_MESSAGE(lines_in(made.err) == 1, made.err);
    CHECK(holds(made.err, row.folder));
    CHECK(made.out.empty());
  }
  CHECK(std::distance(fs::directory_iterator(folder.file(".")), {}) == 1);
  const auto nowhere = run_emberline({"new", "", "--yes"});
  CHECK(nowhere.status == 2);
  CHECK(lines_in(nowhere.err) == 1);
}

TEST_CASE("at a terminal six questions are asked, and Enter takes the default of each") {
  const TemporaryFolder folder;
  const auto talked = talk({"new", folder.file("mine")}, Words(6, ""));
  CHECK_MESSAGE(talked.status == 0, talked.shown);
  CHECK(holds(talked.shown, "6 of 6"));
  check_good(folder.file("mine"));
  const auto made = run_emberline({"new", folder.file("other"), "--yes"});
  for (const auto* file : kFiles)
    CHECK(read_file(folder.file(std::string("mine/") + file)) ==
          read_file(folder.file(std::string("other/") + file)));
}

TEST_CASE("answers typed at a terminal mean what flags mean, and a wrong one is asked for again") {
  const TemporaryFolder folder;
  const auto talked = talk({"new", folder.file("mine")},
                           {"Bell kiln, hall 2", "230 V, single-phase, 60 Hz", "x", "2, 16 A",
                            "127.0.0.1:1502", "go-to-preset, 0 s", "latch-to-inhibit, 3 s, 10 %",
                            "go-to-preset, 5 s, 10 %, 4", "go-to-preset, 5 s, 10 %", "247", "20, reference"});
  CHECK_MESSAGE(talked.status == 0, talked.shown);
  CHECK(holds(talked.shown, "expected a whole number from 1 to 32, found 'x'"));
  CHECK(holds(talked.shown, "expected 0.2 s to 600 s, found '0 s'"));
  CHECK(holds(talked.shown, "expected 3 answers at most"));
  CHECK(holds(talked.shown, "'10 %': only go-to-preset has a preset"));
  CHECK(holds(talked.shown, "go past the last id"));
  check_good(folder.file("mine"));
  const auto made = run_emberline({"new",         folder.file("other"),
                                   "--name",      "Bell kiln, hall 2",
                                   "--voltage",   "230 V",
                                   "--system",    "single-phase",
                                   "--frequency", "60 Hz",
                                   "--units",     "2",
                                   "--rating",    "16 A",
                                   "--line",      "127.0.0.1:1502",
                                   "--policy",    "go-to-preset",
                                   "--timeout",   "5 s",
                                   "--preset",    "10 %",
                                   "--id",        "20",
                                   "--numbering", "reference",
                                   "--yes"});
  CHECK_MESSAGE(made.status == 0, made.err);
  for (const auto* file : kFiles)
    CHECK(read_file(folder.file(std::string("mine/") + file)) ==
          read_file(folder.file(std::string("other/") + file)));
}

TEST_CASE("at a terminal only what flags leave open is asked, and an end of the input writes nothing") {
  const TemporaryFolder folder;
  const auto some =
      talk({"new", folder.file("mine"), "--name", "Kiln", "--units", "2", "--policy", "hold-last-command"},
           {"", "40 A", "", "9 s", ""});
  CHECK_MESSAGE(some.status == 0, some.shown);
  CHECK_FALSE(holds(some.shown, "1 of 6"));
  const auto bench = read_file(folder.file("mine/bench.yaml"));
  CHECK(holds(bench, "current: 40 A"));
  CHECK(holds(bench, "timeout: 9 s"));
  check_good(folder.file("mine"));
  const auto left = talk({"new", folder.file("never")}, {"", ""});
  CHECK(left.status == 2);
  CHECK_MESSAGE(holds(left.shown, "nothing has been written"), left.shown);
  CHECK_FALSE(fs::exists(folder.file("never")));
}

TEST_CASE("new files beside the shipped schemas name them for the editor") {
  const TemporaryFolder folder;
  fs::create_directories(folder.file("config"));
  fs::copy(EMBERLINE_SOURCE_DIR "/config/schema", folder.file("config/schema"));
  REQUIRE(run_emberline({"new", folder.file("plants/mine"), "--yes"}).status == 0);
  CHECK(read_file(folder.file("plants/mine/bench.yaml"))
            .starts_with("# yaml-language-server: $schema=../../config/schema/bench.json\n"));
  CHECK(read_file(folder.file("plants/mine/cable-pulled.yaml"))
            .starts_with("# yaml-language-server: $schema=../../config/schema/scenario.json\n"));
  check_good(folder.file("plants/mine"));
}
