#include "sim/base/duration_text.hpp"
#include "sim/cli/rehearse_run.hpp"

namespace emberline::cli {

rehearsal::Verdict not_run(const rehearsal::ScenarioSpec& scenario, std::uint64_t seed,
                           const std::string& reason) {
  rehearsal::Verdict verdict;
  verdict.title = scenario.title;
  verdict.file_stem = scenario.file_stem;
  verdict.why = scenario.why;
  verdict.seed = seed;
  verdict.files = scenario.files;
  for (const auto& expectation : scenario.expectations) {
    rehearsal::Outcome outcome;
    outcome.name = expectation.name;
    verdict.outcomes.push_back(std::move(outcome));
  }
  judge_nothing(verdict, reason);
  return verdict;
}

std::optional<std::string> cut_short(const rehearsal::ScenarioSpec& scenario,
                                     const rehearsal::Verdict& verdict) {
  if (verdict.ended >= scenario.ends) return std::nullopt;
  return "stopped at " + format_duration(verdict.ended.time_since_epoch()) + " of " +
         format_duration(scenario.ends.time_since_epoch());
}

void judge_nothing(rehearsal::Verdict& verdict, const std::string& reason) {
  verdict.passed = false;
  for (auto& outcome : verdict.outcomes) {
    outcome.result = rehearsal::Outcome::Result::not_judged;
    outcome.sentence = "could not be judged: " + reason;
    outcome.at.reset();
    outcome.around = {};
  }
}

}  // namespace emberline::cli
