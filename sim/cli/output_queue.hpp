#pragma once

#include <chrono>
#include <condition_variable>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <limits>
#include <mutex>
#include <string>
#include <thread>

namespace emberline::cli {

/// Writes to standard output and standard error in a thread of its own. A reader who reads slowly, a terminal
/// that Ctrl-S holds, or a pipe that nobody empties then keeps nobody waiting who has something to say. From
/// its making on a reader who has gone away is an error of that write (output_complete()), and no longer the
/// end of the program: what runs has more to do than to be read. Everything may be called from any thread.
class OutputQueue {
 public:
  static constexpr std::size_t kNoLimit = std::numeric_limits<std::size_t>::max();
  static constexpr std::size_t kLimitOfALog_B = 1'000'000;  ///< some ten thousand lines

  /// At most `most_B` bytes wait; what comes beyond them is left out, and a line says how much was.
  explicit OutputQueue(std::size_t most_B = kNoLimit);
  /// Waits until all of it is written, however long that takes.
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
  /// The same, no longer than `patience`; false if something still waits.
  [[nodiscard]] bool flush_within(std::chrono::milliseconds patience);

 private:
  enum class Where : std::uint8_t { output, complaint, log };
  struct Text {
    std::string text;
    Where where;
  };
  void put(Text text);
  void write();

  std::size_t most_B_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<Text> waiting_;  ///< the first is being written
  std::size_t waiting_B_ = 0;
  std::uint64_t left_out_ = 0;  ///< since the last line that said so
  bool closing_ = false;
  std::thread writer_;  ///< last: it uses all of this
};

}  // namespace emberline::cli
