#include <filesystem>
#include <regex>
#include <string>

#include <doctest/doctest.h>
#include <signal.h>
#include <sys/resource.h>
#include <unistd.h>

#include "tests/support/process.hpp"
#include "tests/support/this_build.hpp"

using emberline::testing::Background;
using emberline::testing::read_file;
using emberline::testing::TemporaryFolder;
namespace fs = std::filesystem;

namespace {

void replace(std::string& text, const std::string& what, const std::string& with) {
  for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + with.size()))
    text.replace(at, what.size(), with);
}

/// The shipped bench, with its lines at places of this test's own.
struct Served {
  explicit Served(const TemporaryFolder& folder)
      : link(folder.file("lines/field")),
        control(folder.file("control.sock")),
        ready(folder.file("ready.json")) {
    // No cores: it is the ending that is looked at.
    const rlimit none{0, 0};
    ::setrlimit(RLIMIT_CORE, &none);
    auto text = read_file(std::string(EMBERLINE_SOURCE_DIR) + "/config/benches/annealing-lehr.yaml");
    replace(text, "/tmp/emberline/field", link);
    replace(text, "127.0.0.1:1502", "127.0.0.1:0");
    replace(text, "../registers/", std::string(EMBERLINE_SOURCE_DIR) + "/config/registers/");
    bench = folder.write("bench.yaml", text);
  }
  [[nodiscard]] std::vector<std::string> arguments() const {
    return {"serve", bench, "--control", control, "--ready-file", ready, "--panel", "off"};
  }
  std::string link, control, ready, bench;
};

bool stands(const std::string& path) { return fs::symlink_status(path).type() != fs::file_type::not_found; }

struct Crash {
  int signal;
  const char* name;
};
constexpr Crash kCrashes[] = {
    {SIGSEGV, "SIGSEGV"}, {SIGABRT, "SIGABRT"}, {SIGBUS, "SIGBUS"}, {SIGFPE, "SIGFPE"}, {SIGILL, "SIGILL"}};

}  // namespace

TEST_CASE("a crash leaves no link, no control socket and no ready file, and says what a report needs") {
  if (emberline::testing::sanitized()) return;  // has a report of its own
  for (const auto& [signal, name] : kCrashes) {
    CAPTURE(std::string(name));
    // A signal from outside may meet a thread that has just been started, and stands in no code of ours yet.
    bool in_our_code = false;
    for (int tries = 0; tries < 5 && !in_our_code; ++tries) {
      const TemporaryFolder folder;
      const Served served(folder);
      Background running(served.arguments());
      REQUIRE(running.wait_for_file(served.ready));
      REQUIRE(stands(served.link));
      REQUIRE(stands(served.control));
      const auto ended = running.stop(signal);
      CHECK(ended.status == 128 + signal);
      CHECK_FALSE(stands(served.link));
      CHECK_FALSE(stands(served.control));
      CHECK_FALSE(stands(served.ready));
      CAPTURE(ended.err);
      const auto has = [&](const std::string& words) { return ended.err.find(words) != std::string::npos; };
      CHECK(has("\n  program: emberline 0."));
      CHECK(has("\n  system: Linux "));
      CHECK(has("\n  command: emberline serve " + served.bench + " --control " + served.control));
      CHECK(
          has("\n  signal: " + std::string(name) + ", sent by process " + std::to_string(::getpid()) + "\n"));
      CHECK(std::regex_search(ended.err, std::regex("\n  simulated time: [0-9]+\\.[0-9]{3} s\n")));
      CHECK(std::regex_search(ended.err, std::regex("\n    libc\\.so[.0-9]*\\+0x[0-9a-f]+\n")));
      in_our_code = std::regex_search(ended.err, std::regex("\n    emberline\\+0x[0-9a-f]+\n"));
    }
    CHECK(in_our_code);
  }
}

TEST_CASE("a crash leaves alone what somebody else has put in the place of a link and of the ready file") {
  if (emberline::testing::sanitized()) return;
  const TemporaryFolder folder;
  const Served served(folder);
  Background running(served.arguments());
  REQUIRE(running.wait_for_file(served.ready));
  fs::remove(served.link);
  fs::create_symlink("/dev/null", served.link);
  fs::rename(folder.write("theirs", "keep me"), served.ready);
  CHECK(running.stop(SIGSEGV).status == 128 + SIGSEGV);
  CHECK(fs::read_symlink(served.link) == "/dev/null");
  CHECK(read_file(served.ready) == "keep me");
  CHECK_FALSE(stands(served.control));
}
