#pragma once

#include <optional>
#include <vector>

#include "sim/cli/commands.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/rehearse_plan.hpp"
#include "sim/rehearsal/verdict.hpp"

namespace emberline::cli {

/// Looks, before anything runs, whether the files that are asked for can be written at the end: each at a
/// place of its own that is no input, in a folder that is there. Complains and gives the exit status
/// otherwise.
[[nodiscard]] std::optional<ExitCode> results_refused(const RehearseOptions& options, const Plan& plan);

/// Writes the files that are asked for, each whole or not at all. Complains of each that cannot be written;
/// true if all are there.
[[nodiscard]] bool write_results(const RehearseOptions& options, const Plan& plan,
                                 const std::vector<rehearsal::Verdict>& verdicts);

}  // namespace emberline::cli
