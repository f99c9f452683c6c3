#pragma once

#include <functional>
#include <thread>

namespace emberline::cli {

/// Waits for SIGINT and SIGTERM in a thread of its own and calls `on_stop` there, once. Make it before any
/// other thread: the signals are blocked in the making thread and in all it starts, so that nothing else is
/// interrupted by them.
class StopSignals {
 public:
  StopSignals();
  /// Starts to wait. `on_stop` must be callable from another thread.
  void watch(std::function<void()> on_stop);
  ~StopSignals();
  StopSignals(const StopSignals&) = delete;
  StopSignals& operator=(const StopSignals&) = delete;

 private:
  std::thread waiter_;
};

}  // namespace emberline::cli
