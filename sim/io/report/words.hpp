#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/rehearsal/verdict.hpp"

namespace emberline::io {

/// What `format` of the verdicts' JSON says.
inline constexpr std::string_view kVerdictsFormat = "emberline-verdicts-2";

/// How an expectation ended: "passed", "failed", "could not be judged".
[[nodiscard]] std::string_view word_of(rehearsal::Outcome::Result result);
/// The same for headings: "PASSED", "FAILED", "COULD NOT BE JUDGED".
[[nodiscard]] std::string_view loud_word_of(rehearsal::Outcome::Result result);
/// How many expectations were met.
[[nodiscard]] std::size_t met(const rehearsal::Verdict& verdict);
/// "20.3 s", "5 h 02 min 01 s": an instant for people.
[[nodiscard]] std::string time_text(SimTime at);
[[nodiscard]] std::string time_text(Duration duration);
/// Rows of the values around a failure in which nothing changes are one stretch; the one that decided stays
/// by itself.
struct AroundStretch {
  std::string time;                        ///< "28.5 s", "28.5 s to 29.9 s"
  const std::vector<std::string>* values;  ///< of the outcome, one for each of its signals
  bool decides;
};
[[nodiscard]] std::vector<AroundStretch> stretches_around(const rehearsal::Outcome& outcome);
/// The same as lines of text: "> 30.02 s  soak-heater.setpoint 50 %", the one that decided marked so.
[[nodiscard]] std::vector<std::string> lines_around(const rehearsal::Outcome& outcome);
/// What stands above the sentences of a review against a poll plan: "Beside the poll plan 'My polling' of
/// field:"
[[nodiscard]] std::string plan_review_head(const rehearsal::Verdict::PlanReview& review);
/// Text for elements and attributes of XML and HTML; control characters, which XML 1.0 forbids, become
/// spaces.
[[nodiscard]] std::string escaped(std::string_view text);
/// The command that runs this rehearsal again, "..." in place of the folder of its file.
[[nodiscard]] std::string command_of(const rehearsal::Verdict& verdict);

}  // namespace emberline::io
