#include "sim/cli/rehearse_run.hpp"
#include "sim/io/report/report.hpp"

namespace emberline::cli {

Result<Done, std::string> save_state(const RehearseOptions& options, rehearsal::Rehearsal& rehearsal) {
  if (options.save_state.empty() || rehearsal.loop().now() < rehearsal.scenario().ends) return Done{};
  const auto state = rehearsal.bench().save_state(rehearsal.loop().now());
  const auto written = io::write_whole(options.save_state, io::bench_state_json(state));
  if (!written) return Failure{"--save-state: " + written.error()};
  return Done{};
}

}  // namespace emberline::cli
