#include "sim/cli/log_queue.hpp"

#include <csignal>
#include <mutex>
#include <string>
#include <utility>

#include <spdlog/sinks/base_sink.h>
#include <spdlog/spdlog.h>
#include <unistd.h>

#include "sim/cli/output.hpp"

namespace emberline::cli {
namespace {

/// What makes a terminal show a level in its colour.
const char* colour_of(spdlog::level::level_enum level) {
  if (level >= spdlog::level::err) return "\x1b[31m";
  return level == spdlog::level::warn ? "\x1b[33m" : "\x1b[32m";
}

class QueueSink final : public spdlog::sinks::base_sink<std::mutex> {
 public:
  explicit QueueSink(OutputQueue& queue) : queue_(queue) {}

 private:
  void sink_it_(const spdlog::details::log_msg& message) override {
    spdlog::memory_buf_t text;
    formatter_->format(message, text);
    std::string line(text.data(), text.size());
    if (coloured_ && message.color_range_end > message.color_range_start) {
      line.insert(message.color_range_end, "\x1b[0m");
      line.insert(message.color_range_start, colour_of(message.level));
    }
    queue_.log(std::move(line));
  }
  void flush_() override {}

  OutputQueue& queue_;
  bool coloured_ = colour_wanted(STDERR_FILENO);
};

}  // namespace

LogQueue::LogQueue(OutputQueue& queue) : before_(spdlog::default_logger()) {
  std::signal(SIGPIPE, SIG_IGN);
  auto log = std::make_shared<spdlog::logger>(before_->name(), std::make_shared<QueueSink>(queue));
  log->set_pattern(kLogPattern);
  spdlog::set_default_logger(log);
}

LogQueue::~LogQueue() { spdlog::set_default_logger(before_); }

}  // namespace emberline::cli
