#pragma once

#include <chrono>
#include <condition_variable>
#include <mutex>

namespace emberline::cli {

/// Waits for the time of what comes next, or until it is asked to stop, by any thread.
class Pause {
 public:
  void stop() {
    const std::lock_guard lock(mutex_);
    stopped_ = true;
    changed_.notify_all();
  }
  /// True if it was stopped.
  [[nodiscard]] bool wait_until(std::chrono::steady_clock::time_point next) {
    std::unique_lock lock(mutex_);
    return changed_.wait_until(lock, next, [this] { return stopped_; });
  }

 private:
  std::mutex mutex_;
  std::condition_variable changed_;
  bool stopped_ = false;
};

}  // namespace emberline::cli
