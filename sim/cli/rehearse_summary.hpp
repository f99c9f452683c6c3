#pragma once

#include <string>
#include <vector>

#include "sim/cli/commands.hpp"
#include "sim/cli/rehearse_plan.hpp"
#include "sim/rehearsal/verdict.hpp"

namespace emberline::cli {

/// "PASSED  title (0.8 s)": a rehearsal in one line, with what it took on the wall clock.
[[nodiscard]] std::string verdict_line(const rehearsal::Verdict& verdict, double seconds, bool colour);

/// The sentences of what failed, without the journal: for a story whose first failure has been shown whole.
[[nodiscard]] std::string failures_text(const rehearsal::Verdict& verdict);

/// How a run of several rehearsals ended: which stories failed, with which seeds, the command that repeats
/// one of them, and how many passed. `verdicts` are of the rehearsals of the plan, in their order.
[[nodiscard]] std::string summary_text(const RehearseOptions& options, const Plan& plan,
                                       const std::vector<rehearsal::Verdict>& verdicts);

}  // namespace emberline::cli
