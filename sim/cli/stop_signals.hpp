#pragma once

#include <atomic>
#include <functional>
#include <thread>

namespace emberline::cli {

/// Waits for SIGINT, SIGTERM and, unless it is ignored, SIGHUP (the terminal has gone) in a thread of its own
/// and calls `on_stop` there, once. The next SIGINT or SIGTERM ends the program at once, should it hang. Make
/// it before any other thread: the signals are blocked in the making thread and in all it starts, so that
/// nothing else is interrupted by them. What `on_stop` uses has to outlive it.
class StopSignals {
 public:
  StopSignals();
  /// Starts to wait. `on_stop` must be callable from another thread.
  void watch(std::function<void()> on_stop);
  ~StopSignals();
  StopSignals(const StopSignals&) = delete;
  StopSignals& operator=(const StopSignals&) = delete;

 private:
  std::atomic<bool> ending_{false};
  std::thread waiter_;
};

}  // namespace emberline::cli
