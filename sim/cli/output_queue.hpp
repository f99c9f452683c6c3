#pragma once

#include <chrono>
#include <condition_variable>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <limits>
#include <mutex>
#include <optional>
#include <string>
#include <thread>

namespace emberline::cli {

/// How much an OutputQueue keeps, and for how long.
struct OutputLimits {
  /// So many bytes wait, or a single longer text; what comes beyond them is left out, and a line says so.
  std::size_t most_B = std::numeric_limits<std::size_t>::max();
  /// For how long a queue's end waits for a reader; nothing: for ever.
  std::optional<std::chrono::milliseconds> patience{};
};
/// For what runs until it is stopped: some ten thousand lines.
inline constexpr OutputLimits kLimitsOfALog{1'000'000, std::chrono::milliseconds{500}};

/// Writes to standard output and standard error in a thread of its own. A reader who reads slowly, a terminal
/// that Ctrl-S holds, or a pipe that nobody empties then keeps nobody waiting who has something to say.
/// Everything may be called from any thread.
class OutputQueue {
 public:
  explicit OutputQueue(OutputLimits limits = {});
  /// Waits until all of it is written. When patience is over it ends the program, with kSurroundingsFailed:
  /// let whatever else is to be put away go before it.
  ~OutputQueue();
  OutputQueue(const OutputQueue&) = delete;
  OutputQueue& operator=(const OutputQueue&) = delete;

  /// Text for standard output, as it is.
  void print(std::string text) { put({std::move(text), Where::output}); }
  /// One line for standard error, "emberline: ..." in front of it.
  void complain(std::string message) { put({std::move(message), Where::complaint}); }
  /// Text for standard error, as it is.
  void log(std::string text) { put({std::move(text), Where::log}); }
  /// Waits until all of it is written.
  void flush();

 private:
  enum class Where : std::uint8_t { output, complaint, log };
  struct Text {
    std::string text;
    Where where;
  };
  void put(Text text);
  void write();

  OutputLimits limits_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<Text> waiting_;  ///< the first is being written
  std::size_t waiting_B_ = 0;
  std::uint64_t left_out_ = 0;  ///< since the last line that said so
  bool closing_ = false;
  std::thread writer_;  ///< last: it uses all of this
};

}  // namespace emberline::cli
