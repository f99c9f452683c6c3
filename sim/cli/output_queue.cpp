#include "sim/cli/output_queue.hpp"

#include <cstdio>
#include <cstdlib>
#include <utility>

#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"

namespace emberline::cli {

OutputQueue::OutputQueue(OutputLimits limits) : limits_(limits), writer_([this] { write(); }) {}

OutputQueue::~OutputQueue() {
  {
    std::unique_lock lock(mutex_);
    closing_ = true;
    changed_.notify_all();
    const auto written = [this] { return waiting_.empty() && left_out_ == 0; };
    if (limits_.patience && !changed_.wait_for(lock, *limits_.patience, written))
      std::_Exit(kSurroundingsFailed);  // the writer cannot be woken from where it is
  }
  writer_.join();
}

void OutputQueue::put(Text text) {
  {
    const std::lock_guard lock(mutex_);
    if (!waiting_.empty() && waiting_B_ + text.text.size() > limits_.most_B) {
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
      waiting_.push_back({std::to_string(count) + (count == 1 ? " text was" : " texts were") +
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

}  // namespace emberline::cli
