#pragma once

#include <atomic>
#include <cstdint>
#include <functional>
#include <map>
#include <mutex>
#include <utility>

namespace emberline::cli {

/// Whether all that runs is to end early, as after Ctrl-C. Everything may be called from any thread.
class Stopping {
 public:
  [[nodiscard]] bool asked() const { return asked_; }
  void ask() {
    const std::lock_guard lock(mutex_);
    asked_ = true;
    for (const auto& [id, stop] : hooks_) stop();
  }

  /// As long as it lives, ask() calls `stop`; at once if it has been asked already.
  class Hook {
   public:
    Hook(Stopping& stopping, std::function<void()> stop) : stopping_(stopping) {
      const std::lock_guard lock(stopping_.mutex_);
      id_ = stopping_.next_id_++;
      if (stopping_.asked_) stop();
      stopping_.hooks_.emplace(id_, std::move(stop));
    }
    ~Hook() {
      const std::lock_guard lock(stopping_.mutex_);
      stopping_.hooks_.erase(id_);
    }
    Hook(const Hook&) = delete;
    Hook& operator=(const Hook&) = delete;

   private:
    Stopping& stopping_;
    std::uint64_t id_ = 0;
  };

 private:
  std::mutex mutex_;
  std::atomic<bool> asked_{false};
  std::map<std::uint64_t, std::function<void()>> hooks_;
  std::uint64_t next_id_ = 0;
};

}  // namespace emberline::cli
