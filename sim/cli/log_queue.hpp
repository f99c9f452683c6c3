#pragma once

#include <memory>

#include "sim/cli/output_queue.hpp"

namespace spdlog {
class logger;
}

namespace emberline::cli {

/// How a line of the log looks, in the words of spdlog: time of day, level in its colour, text.
inline constexpr const char* kLogPattern = "%H:%M:%S %^%l%$ %v";

/// As long as it lives, what is logged goes through a queue instead of straight to standard error.
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
