#pragma once

#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <utility>

#include "sim/io/line/wall_bench.hpp"
#include "sim/polling/review_text.hpp"

namespace emberline::io {

/// The longest line of text that is read as an action.
inline constexpr std::size_t kLongestLine = 4096;

/// Who is to do what a line of text says.
struct Hands {
  WallBench& wall;
  bench::Bench& bench;  ///< must outlive the run of the wall's io_context
  /// The address of the bench's panel, empty if there is none; set before the bench runs.
  std::shared_ptr<const std::string> panel;
  /// What the traffic is held against when somebody asks for it; set before the bench runs.
  std::shared_ptr<const polling::PollPlans> poll_plans;
};

/// Does what a line of text says to a running bench, on the bench's thread, and gives the answer to `say`:
/// "ok cut field", "pong", or "error ..." with what was expected. "panel" is answered by its address.
void do_line(const Hands& hands, const std::string& line, std::function<void(std::string)> say);

/// Cuts a stream of text into lines. Holds at most one unfinished line of kLongestLine characters; a longer
/// one is passed over up to its end.
class LineCutter {
 public:
  struct Takers {
    std::function<void(std::string)> line;  ///< a line without its end ("\n")
    std::function<void()> too_long;         ///< once for each line that was too long
  };
  explicit LineCutter(Takers takers) : takers_(std::move(takers)) {}
  void receive(std::string_view text);
  /// The text ended: what is left counts as a line.
  void end();

 private:
  Takers takers_;
  std::string unfinished_;
  bool passing_over_ = false;
};

/// The answer to a line that is too long.
[[nodiscard]] std::string too_long_answer();

}  // namespace emberline::io
