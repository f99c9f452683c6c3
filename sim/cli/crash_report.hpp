#pragma once

#include <string>

#include "sim/bench/event_loop.hpp"

namespace emberline::cli {

/// From now on a crash (SIGSEGV, SIGABRT, SIGBUS, SIGFPE, SIGILL, an exception that nobody catches) first
/// removes what would be left behind (sim/io/line/left_behind.hpp), then says on standard error what a report
/// of it needs, and then ends the program as it would have without: by that signal, with a core where the
/// system writes one. Call it first thing, once. `argc` and `argv` are copied; control characters in them are
/// not printed. A stack that has run full is told for the calling thread only: others have none to turn to.
/// Builds under a sanitizer that has a handler of its own (address, thread) keep that one.
void report_crashes(int argc, const char* const* argv);

/// As long as it lives, a crash of the thread that made it tells the simulated time and what was being run; a
/// crash of a thread that has none of its own tells those of the newest one.
class Running {
 public:
  /// `loop` and its time are looked at, nothing else; `what` is such as "cable-pulled-latch, seed 1", or
  /// empty.
  Running(const bench::EventLoop& loop, std::string what);
  ~Running();
  Running(const Running&) = delete;
  Running& operator=(const Running&) = delete;

  [[nodiscard]] const bench::EventLoop& loop() const noexcept { return loop_; }
  [[nodiscard]] const std::string& what() const noexcept { return what_; }

 private:
  const bench::EventLoop& loop_;
  std::string what_;
  const Running* outer_;
};

}  // namespace emberline::cli
