#include <array>
#include <chrono>
#include <cstdint>
#include <fstream>
#include <functional>
#include <regex>
#include <stdexcept>
#include <string>
#include <thread>

#include <doctest/doctest.h>
#include <sys/mman.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "sim/bench/event_loop.hpp"
#include "sim/cli/crash_report.hpp"
#include "sim/cli/loaded_program.hpp"
#include "sim/io/line/left_behind.hpp"
#include "tests/support/process.hpp"
#include "tests/support/this_build.hpp"

using namespace emberline;
using namespace std::chrono_literals;

// Real faults, each in a process of its own that reports crashes as emberline does.

namespace {

/// What a process said on standard error, and the signal it died by; 0 if by none.
struct Ended {
  std::string said;
  int signal = 0;
  bool left_behind = true;
};

Ended ended_by(const std::function<void()>& fault) {
  const testing::TemporaryFolder folder;
  const auto ready = folder.write("ready.json", "{}");
  std::array<int, 2> ends{};
  REQUIRE(::pipe(ends.data()) == 0);
  const auto child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    ::dup2(ends[1], STDERR_FILENO);
    ::close(ends[0]);
    ::close(ends[1]);
    const rlimit none{0, 0};
    ::setrlimit(RLIMIT_CORE, &none);
    const char* const words[] = {"/somewhere/emberline", "serve", "a\nbench.yaml"};
    cli::report_crashes(3, words);
    io::note_left_behind(ready);
    fault();
    ::_exit(0);
  }
  ::close(ends[1]);
  Ended ended;
  std::array<char, 4096> read{};
  for (ssize_t size = 0; (size = ::read(ends[0], read.data(), read.size())) > 0;)
    ended.said.append(read.data(), static_cast<std::size_t>(size));
  ::close(ends[0]);
  int status = 0;
  REQUIRE(::waitpid(child, &status, 0) == child);
  ended.signal = WIFSIGNALED(status) ? WTERMSIG(status) : 0;
  ended.left_behind = std::ifstream(ready).good();
  return ended;
}

/// A byte that must not be touched.
volatile char* forbidden() {
  static void* page = ::mmap(nullptr, 4096, PROT_NONE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
  return static_cast<volatile char*>(page);
}

[[gnu::noinline]] void touch(volatile char* byte) { *byte = 1; }

/// Fills the stack, 1 kB at a time.
[[gnu::noinline]] int fill_stack(int depth) {
  volatile char block[1024];
  block[depth % 1024] = 1;
  return depth < 0 ? 0 : fill_stack(depth + 1) + block[depth % 1024];
}

bool has(const Ended& ended, const std::string& words) { return ended.said.find(words) != std::string::npos; }

std::string hexadecimal(std::uintptr_t number) {
  std::string text;
  for (; number != 0; number /= 16) text.insert(text.begin(), "0123456789abcdef"[number % 16]);
  return "0x" + text;
}

}  // namespace

TEST_CASE("a fault tells the address and the function it happened in, and leaves nothing behind") {
  if (testing::sanitized()) return;  // has a report of its own
  auto* byte = forbidden();
  const auto ended = ended_by([byte] { touch(byte); });
  CAPTURE(ended.said);
  CHECK(ended.signal == SIGSEGV);
  CHECK_FALSE(ended.left_behind);
  CHECK(has(ended, "\n  signal: SIGSEGV at " + hexadecimal(reinterpret_cast<std::uintptr_t>(byte)) + "\n"));
  CHECK(has(ended, "\n  command: emberline serve a?bench.yaml\n"));
  // The first address is in touch(), counted from where this program was loaded.
  std::smatch first;
  REQUIRE(std::regex_search(ended.said, first,
                            std::regex("\n  where[^\n]*\n[^\n]*:\n    emberline\\+0x([0-9a-f]+)\n")));
  const auto at = std::stoull(first[1], nullptr, 16);
  const auto function = reinterpret_cast<std::uintptr_t>(&touch) - cli::loaded_program().objects[0].base;
  CHECK(at >= function);
  CHECK(at < function + 64);
}

TEST_CASE("a stack that has run full is told like any other crash") {
  if (testing::sanitized()) return;
  const auto ended = ended_by([] { ::_exit(fill_stack(0)); });
  CAPTURE(ended.said);
  CHECK(ended.signal == SIGSEGV);
  CHECK_FALSE(ended.left_behind);
  CHECK(has(ended, "\n  signal: SIGSEGV at 0x"));
  CHECK(has(ended, "\n    emberline+0x"));
}

TEST_CASE("an exception that nobody catches is told with its words, beside what a report needs") {
  if (testing::sanitized()) return;
  const auto ended = ended_by([] { std::thread([] { throw std::runtime_error("words\nof it"); }).join(); });
  CAPTURE(ended.said);
  CHECK(ended.signal == SIGABRT);
  CHECK_FALSE(ended.left_behind);
  CHECK(has(ended, "\n  signal: SIGABRT, raised by the program itself\n"));
  CHECK(has(ended, "\n  reason: nobody caught St13runtime_error: words?of it\n"));
  CHECK(has(ended, "\n  program: emberline 0."));
}

TEST_CASE("a crash tells what was being run and the simulated time, of the thread that crashed") {
  if (testing::sanitized()) return;
  const auto ended = ended_by([] {
    bench::EventLoop outer, inner;
    outer.run_through(SimTime{7s});
    inner.run_through(SimTime{61s + 5ms});
    const cli::Running one(outer, "first, seed 1");
    { const cli::Running nothing(inner, "over, seed 9"); }
    std::thread([&] {
      const cli::Running other(inner, "second, seed 2");
      std::abort();
    }).join();
  });
  CAPTURE(ended.said);
  CHECK(ended.signal == SIGABRT);
  CHECK(has(ended, "\n  simulated time: 61.005 s, second, seed 2\n"));
  const auto of_another = ended_by([] {
    bench::EventLoop loop;
    loop.run_through(SimTime{7s + 120ms});
    const cli::Running one(loop, {});
    std::thread([] { std::abort(); }).join();
  });
  CAPTURE(of_another.said);
  CHECK(has(of_another, "\n  simulated time: 7.120 s\n"));
  CHECK_FALSE(has(ended_by([] { std::abort(); }), "simulated time"));
}
