#pragma once

#include <cstddef>
#include <deque>
#include <memory>

#include "sim/cli/rehearse_console.hpp"
#include "sim/io/control/input_lines.hpp"
#include "sim/io/line/wall_bench.hpp"
#include "sim/rehearsal/rehearsal.hpp"

namespace emberline::cli {

/// A human at the terminal who does what the timeline asks for: a prompt when an entry with `ask` comes due,
/// and Enter as they begin. Several open prompts are answered in their order; Enter while nothing is asked
/// for means nothing. When standard input ends nothing can be confirmed any more, which is said once; the
/// story goes on. Everything happens on the bench's thread.
class HumanHands {
 public:
  /// All must outlive it. Make it before the bench runs.
  HumanHands(const rehearsal::ScenarioSpec& scenario, rehearsal::Rehearsal& rehearsal, io::WallBench& wall,
             Console& console);

 private:
  void ask(std::size_t entry);
  void confirm(SimTime at);
  void input_ended();
  [[nodiscard]] std::string asked(std::size_t entry) const;

  const rehearsal::ScenarioSpec& scenario_;
  rehearsal::Rehearsal& rehearsal_;
  Console& console_;
  std::deque<std::size_t> open_;  ///< entries of the timeline, the oldest prompt first
  bool ended_ = false;            ///< nobody can confirm anything
  bool heard_ = false;            ///< somebody has pressed the key
  io::InputLines input_;          ///< last: it calls back
};

}  // namespace emberline::cli
