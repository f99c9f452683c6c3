#include "sim/cli/rehearse_pool.hpp"

#include <algorithm>
#include <condition_variable>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace emberline::cli {
namespace {

/// What workers and the calling thread have in common.
class Desk {
 public:
  explicit Desk(std::size_t count) : ran_(count, false) {}

  /// The next job; count or beyond: none is left.
  [[nodiscard]] std::size_t take() {
    const std::lock_guard lock(mutex_);
    return problem_ ? ran_.size() : next_++;
  }
  void finished(std::size_t job) {
    {
      const std::lock_guard lock(mutex_);
      ran_[job] = true;
    }
    changed_.notify_one();
  }
  void failed(std::exception_ptr problem) {
    {
      const std::lock_guard lock(mutex_);
      if (!problem_) problem_ = std::move(problem);
    }
    changed_.notify_one();
  }
  /// Waits until the job has run; false if one has thrown.
  [[nodiscard]] bool wait_for(std::size_t job) {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [&] { return ran_[job] || problem_; });
    return !problem_;
  }
  void rethrow() const {
    if (problem_) std::rethrow_exception(problem_);
  }

 private:
  std::mutex mutex_;
  std::condition_variable changed_;
  std::vector<bool> ran_;
  std::size_t next_ = 0;
  std::exception_ptr problem_;
};

}  // namespace

void run_pool(std::size_t count, std::size_t workers,
              const std::function<void(std::size_t job, std::size_t worker)>& run,
              const std::function<void(std::size_t job)>& done) {
  Desk desk(count);
  const auto work = [&](std::size_t worker) {
    for (std::size_t job = desk.take(); job < count; job = desk.take()) {
      try {
        run(job, worker);
      } catch (...) {
        desk.failed(std::current_exception());
        return;
      }
      desk.finished(job);
    }
  };
  {
    std::vector<std::jthread> threads;  // joined when they go
    for (std::size_t worker = 0; worker < std::min(count, workers); ++worker)
      threads.emplace_back(work, worker);
    for (std::size_t job = 0; job < count && desk.wait_for(job); ++job) done(job);
  }
  desk.rethrow();
}

}  // namespace emberline::cli
