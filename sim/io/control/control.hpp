#pragma once

#include <functional>
#include <memory>
#include <string>
#include <string_view>

#include "sim/base/result.hpp"
#include "sim/io/line/wall_bench.hpp"
#include "sim/polling/review_text.hpp"

namespace emberline::io {

/// Hands for a running bench: the words of a timeline entry ("cut field") come in as lines of text, over a
/// Unix socket or standard input. The answer to each line is "ok ...", "error ..." (not understood)
/// or, to "ping", "pong"; to "panel", "ok http://..." or an error.
class Control {
 public:
  Control(WallBench& wall, bench::Bench& bench);
  ~Control();
  /// Listens at `path` (mode 0600). A stale socket is replaced; a live one, or anything else at that path, is
  /// not: the error is one line.
  [[nodiscard]] Result<Done, std::string> listen(const std::string& path);
  /// What is answered to "panel": the address of the bench's panel, empty if there is none. Before the bench
  /// runs.
  void panel_at(const std::string& url);
  /// What "traffic" tells beside the traffic itself: what it is beside these plans of the bench. Before the
  /// bench runs.
  void hold_against(polling::PollPlans plans);
  /// Takes the same words from standard input; its end stops nothing. `say` prints the answer to each line.
  void read_standard_input(std::function<void(const std::string&)> say);
  /// Closes the socket and removes it.
  void close();

 private:
  class Impl;
  std::unique_ptr<Impl> impl_;
};

/// Where the control socket of a bench file is when --control does not say:
/// ${XDG_RUNTIME_DIR:-/tmp}/emberline-UID/BENCHFILE-STEM.sock
[[nodiscard]] std::string default_control_path(const std::string& bench_file);

/// What came of sending one line to a running bench.
struct Told {
  enum class Status { done, not_understood, nobody_there } status;
  std::string answer;  ///< one line for the user
};
/// Sends one line ("cut field", "ping") to the socket at `path` and waits for its answer, at most five
/// seconds.
[[nodiscard]] Told tell(const std::string& path, const std::string& line);

}  // namespace emberline::io
