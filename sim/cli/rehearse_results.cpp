#include "sim/cli/rehearse_results.hpp"

#include "sim/cli/places.hpp"
#include "sim/cli/reports.hpp"

namespace emberline::cli {

using rehearsal::Verdict;

std::optional<ExitCode> results_refused(const RehearseOptions& options, const Plan& plan) {
  auto inputs = options.scenarios;
  for (const auto& scenario : plan.scenarios)
    for (const auto& file : scenario.files) inputs.push_back(file.path);
  return places_refused({{"--junit", options.junit},
                         {"--json", options.json},
                         {"--report", options.report},
                         {"--trends", options.trends, true},
                         {"--capture", options.capture},
                         {"--save-state", options.save_state}},
                        inputs);
}

bool write_results(const RehearseOptions& options, const Plan& plan, const std::vector<Verdict>& verdicts) {
  std::optional<io::ShardPlace> place;
  if (plan.shard) place = {plan.shard->number, plan.shard->of, plan.listed};
  return write_reports({options.junit, options.json, options.report, options.trends}, verdicts, place);
}

}  // namespace emberline::cli
