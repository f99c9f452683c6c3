#pragma once

#include <cstddef>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

#include "sim/cli/output.hpp"
#include "sim/cli/output_queue.hpp"

namespace emberline::cli {

/// What is shown of how far a run is, in one line that fits `width`: "12/40 done, 1 failed; running: a, b".
[[nodiscard]] std::string progress_line(std::size_t done, std::size_t total, std::size_t failed,
                                        const std::vector<std::string>& running, std::size_t width);

/// Standard output and error of a run of rehearsals, whichever thread speaks: whole texts, and below them, on
/// a terminal and when there are several rehearsals, one line that is rewritten as they go on. May be called
/// from any thread, and never waits for the terminal, so that a bench goes on answering while somebody holds
/// it (Ctrl-S).
class Console {
 public:
  explicit Console(std::size_t rehearsals);
  ~Console();
  Console(const Console&) = delete;
  Console& operator=(const Console&) = delete;

  /// Prints to standard output.
  void say(std::string_view text);
  /// One line to standard error.
  void warn(std::string_view message);
  void began(const std::string& name);
  void ended(const std::string& name, bool passed);
  /// Waits until all of it stands there.
  void flush() { queue_.flush(); }

 private:
  void take_away();
  void draw();

  std::mutex mutex_;
  std::size_t total_;
  bool shown_;            ///< there is a line to be rewritten
  bool on_line_ = false;  ///< and it stands on the screen now
  std::size_t done_ = 0;
  std::size_t failed_ = 0;
  std::vector<std::string> running_;
  OutputQueue queue_;
};

}  // namespace emberline::cli
