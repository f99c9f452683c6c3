#pragma once

#include <memory>

#include "sim/cli/output_queue.hpp"

namespace spdlog {
class logger;
}

namespace emberline::cli {

/// How a line of the log looks, in the words of spdlog: time of day, level in its colour, text.
inline constexpr const char* kLogPattern = "%H:%M:%S %^%l%$ %v";

/// As long as it lives, what is logged goes through a queue instead of straight to standard error. And from
/// its making on a reader who has gone away is an error of that write (output_complete()), and no longer the
/// end of the program: a bench has more to do than to be read. Make and end it while no other thread logs.
class LogQueue {
 public:
  /// `queue` must outlive it.
  explicit LogQueue(OutputQueue& queue);
  ~LogQueue();
  LogQueue(const LogQueue&) = delete;
  LogQueue& operator=(const LogQueue&) = delete;

 private:
  std::shared_ptr<spdlog::logger> before_;
};

}  // namespace emberline::cli
