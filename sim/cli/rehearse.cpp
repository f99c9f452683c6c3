#include <atomic>
#include <chrono>
#include <optional>
#include <set>

#include <sched.h>

#include "sim/cli/commands.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/rehearse_console.hpp"
#include "sim/cli/rehearse_plan.hpp"
#include "sim/cli/rehearse_pool.hpp"
#include "sim/cli/rehearse_results.hpp"
#include "sim/cli/rehearse_run.hpp"
#include "sim/cli/rehearse_summary.hpp"
#include "sim/cli/stop_signals.hpp"
#include "sim/cli/stopping.hpp"
#include "sim/io/report/report.hpp"

namespace emberline::cli {
namespace {

using rehearsal::Verdict;

/// All rehearsals of a plan, run and told of.
class Performance {
 public:
  Performance(const RehearseOptions& options, const Plan& plan, Stopping& stopping)
      : options_(options),
        plan_(plan),
        stopping_(stopping),
        console_(plan.rehearsals.size()),
        several_(plan.listed > 1),
        runs_(plan.rehearsals.size()) {}

  void run();
  /// One line about the surroundings, if they let a rehearsal down.
  [[nodiscard]] std::optional<std::string> problem() const;
  /// When there was no problem: in the order of the plan.
  [[nodiscard]] std::vector<Verdict> verdicts() const;
  [[nodiscard]] std::size_t left_out() const { return left_out_; }

 private:
  struct Ran {
    std::optional<Run> run;
    double seconds = 0.0;
    bool left_out = false;
  };
  void perform(std::size_t index, std::size_t worker, const RunSetting& setting);
  void tell(std::size_t index);

  const RehearseOptions& options_;
  const Plan& plan_;
  Stopping& stopping_;
  Console console_;
  bool several_;
  std::vector<Ran> runs_;
  std::atomic<bool> let_down_{false};  ///< by the surroundings
  std::size_t left_out_ = 0;
  std::set<std::size_t> shown_;  ///< scenarios whose first failure has been shown whole
};

void Performance::perform(std::size_t index, std::size_t worker, const RunSetting& setting) {
  const auto& planned = plan_.rehearsals[index];
  const auto& scenario = plan_.scenarios[planned.scenario];
  auto& ran = runs_[index];
  if (stopping_.asked()) {
    ran.run = not_run(scenario, planned.seed);
    ran.left_out = true;
    return;
  }
  const std::string name =
      scenario.file_stem + (plan_.repeats ? " (seed " + std::to_string(planned.seed) + ")" : "");
  console_.began(name);
  const auto began = std::chrono::steady_clock::now();
  ran.run = on_wall_clock(scenario, options_) ? run_on_wall(scenario, planned.seed, setting)
                                              : run_stepped(scenario, planned.seed, worker, setting);
  ran.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();
  if (!*ran.run) {
    let_down_ = true;
    stopping_.ask();
  }
  console_.ended(name, *ran.run && (**ran.run).passed);
}

void Performance::tell(std::size_t index) {
  auto& ran = runs_[index];
  if (let_down_ || !*ran.run) return;
  if (ran.left_out) {
    ++left_out_;
    return;
  }
  auto verdict = **ran.run;
  if (!several_) {
    console_.say(io::terminal_report(verdict, colour_wanted()) + "\n");
    return;
  }
  if (plan_.repeats) verdict.title += " (seed " + std::to_string(verdict.seed) + ")";
  if (!verdict.passed && shown_.insert(plan_.rehearsals[index].scenario).second) {
    console_.say("\n" + io::terminal_report(verdict, colour_wanted()) + "\n");
    return;
  }
  console_.say(verdict_line(verdict, ran.seconds, colour_wanted()) +
               (verdict.passed ? "" : failures_text(verdict)));
}

void Performance::run() {
  const RunSetting setting{.options = options_,
                           .wait_for_master = plan_.wait_for_master,
                           .console = console_,
                           .stopping = stopping_,
                           .alone = !several_,
                           .side_by_side = plan_.jobs > 1 && runs_.size() > 1,
                           .first_core = sched_getcpu()};
  run_pool(
      runs_.size(), plan_.jobs,
      [&](std::size_t index, std::size_t worker) { perform(index, worker, setting); },
      [this](std::size_t index) { tell(index); });
}

std::optional<std::string> Performance::problem() const {
  for (const auto& ran : runs_)
    if (ran.run && !*ran.run) return ran.run->error();
  return std::nullopt;
}

std::vector<Verdict> Performance::verdicts() const {
  std::vector<Verdict> verdicts;
  for (const auto& ran : runs_) {
    verdicts.push_back(**ran.run);
    auto& verdict = verdicts.back();
    verdict.version = EMBERLINE_VERSION;
    if (plan_.repeats) verdict.title += " (seed " + std::to_string(verdict.seed) + ")";
  }
  return verdicts;
}

void say_what_is_special(const RehearseOptions& options) {
  if (options.real_master) print(cautions());
  if (options.plant_speed != 1.0) print(plant_speed_caution(options.plant_speed));
}

}  // namespace

int rehearse(const RehearseOptions& options) {
  const auto plan = plan_rehearsals(options);
  if (!plan) return kInputUnusable;
  if (const auto refused = results_refused(options, *plan)) return *refused;
  StopSignals signals;  // before any other thread
  Stopping stopping;
  signals.watch([&stopping] { stopping.ask(); });
  say_what_is_special(options);
  if (plan->rehearsals.empty())
    print("shard " + options.shard + " holds none of the " + std::to_string(plan->listed) +
          " rehearsals; nothing to do\n");
  Performance performance(options, *plan, stopping);
  performance.run();
  if (const auto problem = performance.problem()) {
    complain(*problem);
    return kSurroundingsFailed;
  }
  const auto verdicts = performance.verdicts();
  std::size_t passed = 0;
  for (const auto& verdict : verdicts) passed += verdict.passed ? 1 : 0;
  if (const auto count = performance.left_out(); count > 0)
    print("stopped: " + std::to_string(count) + (count == 1 ? " rehearsal was" : " rehearsals were") +
          " not run and count as failed\n");
  if (plan->listed > 1 && !verdicts.empty()) print(summary_text(options, *plan, verdicts));
  print(cautions());
  if (!write_results(options, verdicts)) return kSurroundingsFailed;
  return passed == verdicts.size() ? kAllWell : kVerdictFailed;
}

}  // namespace emberline::cli
