#pragma once

#include <string>
#include <vector>

#include "sim/polling/poll_plan.hpp"
#include "sim/polling/time_words.hpp"

namespace emberline::io {

using polling::bound_words;
using polling::time_words;

/// "0.5729 ms": with digits enough to do a sum again by hand.
[[nodiscard]] std::string fine_words(Duration duration);
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
  unsupervised,      ///< its timeout is 0
  starves,           ///< nothing in the plan feeds it
  too_short,         ///< shorter than a gap that comes with these phases
  may_be_too_short,  ///< shorter than the bound for any phase, and these phases were not looked at to the end
  these_phases_only,  ///< long enough with these phases, shorter than the bound for any phase
  kept_fed,           ///< long enough however the phases lie
};
/// Whether what the advice says of these phases is all there is to come.
[[nodiscard]] bool knows_phases(const polling::WatchdogAdvice& advice);
[[nodiscard]] WatchdogFate fate_of(const polling::WatchdogAdvice& advice);

}  // namespace emberline::io
