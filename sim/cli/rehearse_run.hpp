#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>

#include "sim/base/result.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/rehearse_console.hpp"
#include "sim/cli/stopping.hpp"
#include "sim/rehearsal/rehearsal.hpp"
#include "sim/rehearsal/scenario_spec.hpp"
#include "sim/rehearsal/verdict.hpp"

namespace emberline::cli {

/// How a rehearsal ended; the error is one line about the surroundings.
using Run = Result<rehearsal::Verdict, std::string>;

/// What all rehearsals of a run have in common.
struct RunSetting {
  const RehearseOptions& options;
  Duration wait_for_master{};
  Console& console;
  Stopping& stopping;
  bool alone = true;          ///< the only one of its run: says more
  bool side_by_side = false;  ///< others run at the same time
  int first_core = -1;        ///< of those that run side by side: where their cores are counted from
};

/// Runs a rehearsal as fast as it can, on its own simulated lines. `worker` tells those that run side by side
/// from each other.
[[nodiscard]] Run run_stepped(const rehearsal::ScenarioSpec& scenario, std::uint64_t seed, std::size_t worker,
                              const RunSetting& setting);

/// Runs a rehearsal on the wall clock: stand-ins on private lines, or the user's own masters on the lines of
/// the bench.
[[nodiscard]] Run run_on_wall(const rehearsal::ScenarioSpec& scenario, std::uint64_t seed,
                              const RunSetting& setting);

/// The verdict on a rehearsal that never began, for this reason: nothing could be judged.
[[nodiscard]] rehearsal::Verdict not_run(const rehearsal::ScenarioSpec& scenario, std::uint64_t seed,
                                         const std::string& reason);

/// What is said of a rehearsal that ended before its time: "stopped at 2.9 s of 60 s".
[[nodiscard]] std::optional<std::string> cut_short(const rehearsal::ScenarioSpec& scenario,
                                                   const rehearsal::Verdict& verdict);

/// Makes every expectation one that could not be judged, for this reason.
void judge_nothing(rehearsal::Verdict& verdict, const std::string& reason);

/// Saves the state of the bench if that is asked for and the run has come to its end: another state is not
/// what the story leads to. The error is one line.
[[nodiscard]] Result<Done, std::string> save_state(const RehearseOptions& options,
                                                   rehearsal::Rehearsal& rehearsal);

}  // namespace emberline::cli
