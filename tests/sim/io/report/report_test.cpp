#include "sim/io/report/report.hpp"

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#include <thread>
#include <vector>

#include <doctest/doctest.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "tests/sim/io/report/sample_verdict.hpp"

using namespace emberline;
using namespace std::chrono_literals;
using testing::content_of;
using testing::sample_verdict;

TEST_CASE("JUnit: counts, escapes, unique names, both kinds of failure, attributes of the strict schema") {
  // Shape: the Ant-derived JUnit schema as CI servers bundle it (junit-10.xsd): package, id, hostname,
  // timestamp and counts on each suite.
  testing::check_golden("verdicts.xml", io::junit_xml({sample_verdict()}, "2031-05-06T07:08:09"));
}

TEST_CASE("JUnit: cases of one scenario with two seeds are taken for the same case") {
  auto other = sample_verdict();
  other.seed = 4;
  const auto text = io::junit_xml({sample_verdict(), other}, "2031-05-06T07:08:09");
  CHECK(text.find("classname=\"cable-pulled.seed-3\"") != std::string::npos);
  CHECK(text.find("classname=\"cable-pulled.seed-4\"") != std::string::npos);
  CHECK(text.find("tests=\"6\" failures=\"4\"") != std::string::npos);
}

TEST_CASE("JUnit: cases of two scenarios of one name, in two folders, are taken for the same case") {
  const auto text = io::junit_xml({sample_verdict(), sample_verdict()}, "2031-05-06T07:08:09");
  CHECK(text.find("classname=\"cable-pulled.seed-3\"") != std::string::npos);
  CHECK(text.find("classname=\"cable-pulled.seed-3-2\"") != std::string::npos);
}

TEST_CASE("the terminal report names every expectation and paints only where asked") {
  const auto plain = io::terminal_report(sample_verdict(), false);
  CHECK(plain.find('\x1b') == std::string::npos);
  CHECK(plain.find("  PASS  heats\n        always so\n") != std::string::npos);
  // A failure with the values around it, and the row that decided marked.
  CHECK(plain.find("        30.3 s  heater.state running  heater.load_power 11.9 kW\n"
                   "        > 30.5 s  heater.state inhibited  heater.load_power 0 W\n") != std::string::npos);
  CHECK(plain.find("FAILED  1 of 3 expectations met in 60 s of simulated time, 95 requests, seed 3") !=
        std::string::npos);
  CHECK(plain.find(" 0:00:23.000  heater  state running -> inhibited") != std::string::npos);
  CHECK(plain.find("closest call: heater waited 2.015 s for a request, its timeout is 3 s") !=
        std::string::npos);
  CHECK(io::terminal_report(sample_verdict(), true).find("\x1b[31mFAILED") != std::string::npos);
}

TEST_CASE("a long journal is cut in the middle, and the report says by how much") {
  auto many = sample_verdict();
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
      R"({"format":"emberline-ready-1","lines":{"field":{"kind":"pty","path":"/dev/pts/9"},"ethernet":{"kind":"tcp","host":"127.0.0.1","port":1502}},"control":null,"panel":null})"
      "\n");
  CHECK(
      io::ready_json({}, "/run/lehr.sock", "http://127.0.0.1:8710/") ==
      R"({"format":"emberline-ready-1","lines":{},"control":"/run/lehr.sock","panel":"http://127.0.0.1:8710/"})"
      "\n");
}

namespace {

/// A folder of its own, gone at the end.
struct Folder {
  std::string path = std::filesystem::temp_directory_path() / "emberline-report-XXXXXX";
  Folder() { REQUIRE(::mkdtemp(path.data()) != nullptr); }
  ~Folder() { std::filesystem::remove_all(path); }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  [[nodiscard]] std::size_t files() const {
    std::size_t count = 0;
    for ([[maybe_unused]] const auto& entry : std::filesystem::directory_iterator(path)) ++count;
    return count;
  }
};

}  // namespace

TEST_CASE("a file is written whole or not at all, and no half of it is left behind") {
  const Folder folder;
  const auto path = folder.path + "/out.json";
  CHECK(io::write_whole(path, "first"));
  CHECK(io::write_whole(path, "second"));
  CHECK(content_of(path) == "second");
  const auto failed = io::write_whole(folder.path + "/nowhere/out.json", "x");
  REQUIRE_FALSE(failed);
  CHECK(failed.error().find("/nowhere/out.json: cannot be written: ") != std::string::npos);
  std::filesystem::create_directory(folder.path + "/taken");
  CHECK_FALSE(io::write_whole(folder.path + "/taken", "x"));
  CHECK(folder.files() == 2);
}

TEST_CASE("a report replaces a link, a pipe or a device instead of being written to a file") {
  const Folder folder;
  const auto real = folder.path + "/real.json";
  const auto link = folder.path + "/link.json";
  std::filesystem::create_symlink("real.json", link);  // dangling, and relative to its folder
  for (const std::string content : {"first", "second"}) {
    CHECK(io::write_whole(link, content));
    CHECK(std::filesystem::is_symlink(std::filesystem::symlink_status(link)));
    CHECK(content_of(real) == content);
  }
  const auto pipe = folder.path + "/pipe";
  REQUIRE(::mkfifo(pipe.c_str(), 0600) == 0);
  std::filesystem::create_symlink(pipe, folder.path + "/to-pipe");
  for (const auto& path : {pipe, folder.path + "/to-pipe", std::string("/dev/null")}) {
    const auto refused = io::write_whole(path, "x");
    REQUIRE_FALSE(refused);
    CHECK(refused.error() == path + ": is a device or pipe; expected a file, which is put in place whole");
  }
  CHECK(std::filesystem::is_fifo(pipe));
  // What the shell has led standard error into, by whatever name.
  std::ofstream(folder.path + "/log") << "before";
  const int log = ::open((folder.path + "/log").c_str(), O_WRONLY | O_APPEND | O_CLOEXEC);
  const int errors = ::dup(STDERR_FILENO);
  ::dup2(log, STDERR_FILENO);
  const auto own = io::write_whole(folder.path + "/log", "x");
  const auto by_name = io::write_whole("/dev/stderr", "x");
  ::dup2(errors, STDERR_FILENO);
  ::close(errors);
  ::close(log);
  REQUIRE_FALSE(own);
  CHECK(own.error().find(": is where this program's own output goes") != std::string::npos);
  CHECK_FALSE(by_name);
  CHECK(content_of(folder.path + "/log") == "before");
  // Links in a circle lead nowhere.
  std::filesystem::create_symlink("round", folder.path + "/about");
  std::filesystem::create_symlink("about", folder.path + "/round");
  CHECK_FALSE(io::write_whole(folder.path + "/about", "x"));
  CHECK(std::filesystem::is_symlink(std::filesystem::symlink_status(folder.path + "/about")));
}

TEST_CASE("what a killed program has left beside a report stops the next one, or stays for ever") {
  const Folder folder;
  const auto path = folder.path + "/out.html";
  std::ofstream(folder.path + "/.out.html.emberline-part") << "half a rep";
  CHECK(io::write_whole(path, "whole"));
  CHECK(content_of(path) == "whole");
  CHECK(folder.files() == 1);
}

TEST_CASE("a file of the user is lost because its name is that of a report with something behind it") {
  const Folder folder;
  const auto path = folder.path + "/out.html";
  const auto mine = {path + ".part", path + "~", path + ".tmp", folder.path + "/.out.html.part"};
  for (const auto& file : mine) std::ofstream(file) << "mine";
  CHECK(io::write_whole(path, "whole"));
  for (const auto& file : mine) CHECK_MESSAGE(content_of(file) == "mine", file);
  // What cannot have been left by a killed program stays, too, and is said.
  std::filesystem::create_symlink(path + "~", folder.path + "/.out.html.emberline-part");
  const auto refused = io::write_whole(path, "again");
  REQUIRE_FALSE(refused);
  CHECK(refused.error().find("/out.html: cannot be written: ") != std::string::npos);
  CHECK(content_of(path) == "whole");
  CHECK(content_of(path + "~") == "mine");
}

TEST_CASE("two programs that write one report at a time leave a mixture of both, or nothing") {
  const Folder folder;
  const auto path = folder.path + "/out.json";
  const std::string one(200'000, 'a');
  const std::string other(300'000, 'b');
  const auto write_often = [&](const std::string& content) {
    for (int i = 0; i < 20; ++i) CHECK(io::write_whole(path, content));
  };
  std::thread first(write_often, one);
  std::thread second(write_often, other);
  first.join();
  second.join();
  const auto left = content_of(path);
  const bool whole = left == one || left == other;
  CHECK(whole);
  CHECK(folder.files() == 1);
}
