#include "sim/cli/output_queue.hpp"

#include <csignal>
#include <cstdio>
#include <utility>

#include "sim/cli/output.hpp"

namespace emberline::cli {

OutputQueue::OutputQueue(std::size_t most_B) : most_B_(most_B) {
  std::signal(SIGPIPE, SIG_IGN);
  writer_ = std::thread([this] { write(); });
}

OutputQueue::~OutputQueue() {
  {
    const std::lock_guard lock(mutex_);
    closing_ = true;
  }
  changed_.notify_all();
  writer_.join();
}

void OutputQueue::put(Text text) {
  {
    const std::lock_guard lock(mutex_);
    if (waiting_B_ + text.text.size() > most_B_) {
      ++left_out_;
      return;
    }
    waiting_B_ += text.text.size();
    waiting_.push_back(std::move(text));
  }
  changed_.notify_all();
}

void OutputQueue::write() {
  std::unique_lock lock(mutex_);
  for (;;) {
    changed_.wait(lock, [this] { return closing_ || !waiting_.empty(); });
    if (waiting_.empty()) return;
    const auto& next = waiting_.front();  // stays where it is while more comes behind it
    lock.unlock();
    switch (next.where) {
      case Where::output:
        cli::print(next.text);
        break;
      case Where::complaint:
        cli::complain(next.text);
        break;
      case Where::log:
        std::fwrite(next.text.data(), 1, next.text.size(), stderr);
        break;
    }
    lock.lock();
    waiting_B_ -= next.text.size();
    waiting_.pop_front();
    if (waiting_.empty() && left_out_ > 0) {
      const auto count = std::exchange(left_out_, 0);
      waiting_.push_back({std::to_string(count) + (count == 1 ? " line was" : " lines were") +
                              " left out here: nobody read what stands before in time",
                          Where::complaint});
      waiting_B_ = waiting_.back().text.size();
    }
    changed_.notify_all();
  }
}

void OutputQueue::flush() {
  std::unique_lock lock(mutex_);
  changed_.wait(lock, [this] { return waiting_.empty(); });
}

bool OutputQueue::flush_within(std::chrono::milliseconds patience) {
  std::unique_lock lock(mutex_);
  return changed_.wait_for(lock, patience, [this] { return waiting_.empty(); });
}

}  // namespace emberline::cli
