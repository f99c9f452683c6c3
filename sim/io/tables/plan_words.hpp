#pragma once

#include <string>
#include <vector>

#include "sim/polling/poll_plan.hpp"

namespace emberline::io {

/// "23.94 ms", "1.5 s": a time that is known.
[[nodiscard]] std::string time_words(Duration duration);
/// "0.5729 ms": with digits enough to do a sum again by hand.
[[nodiscard]] std::string fine_words(Duration duration);
/// "23.94 ms": an upper bound of a time: rounded up where digits are left out.
[[nodiscard]] std::string bound_words(Duration duration);
/// "5.32 %", to a hundredth of a percent.
[[nodiscard]] std::string share_words(double share);
/// "03", "10": a function code as masters have it, hexadecimal.
[[nodiscard]] std::string code_words(int function);
/// "0x0010 (40017)"
[[nodiscard]] std::string first_words(const polling::PlannedRequest& request);
/// The names of what a request brings or writes, as the user wrote them.
[[nodiscard]] std::vector<std::string> wanted_of(const polling::PollPlan& plan,
                                                 const polling::PlannedRequest& request);
/// The line that is polled.
[[nodiscard]] const bench::LineSpec& line_of(const polling::PollPlan& plan);
/// What the slave of a request takes from a request to its answer.
[[nodiscard]] Duration turnaround_of(const polling::PollPlan& plan, const polling::PlannedRequest& request);
/// Share of the line that a request takes.
[[nodiscard]] double load_of(const polling::PlannedRequest& request);

/// What a plan does to a comms watchdog.
enum class WatchdogFate : std::uint8_t {
  unsupervised,  ///< its timeout is 0
  starves,       ///< nothing in the plan feeds it
  too_short,     ///< its timeout is shorter than what the plan needs
  kept_fed,
};
[[nodiscard]] WatchdogFate fate_of(const polling::WatchdogAdvice& advice);

}  // namespace emberline::io
