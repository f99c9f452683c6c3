#include <algorithm>
#include <chrono>
#include <numeric>
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
  [[nodiscard]] const std::optional<std::string>& problem() const { return problem_; }
  /// In the order of the plan, of all of them; asked for once.
  [[nodiscard]] std::vector<Verdict> verdicts();
  [[nodiscard]] std::size_t left_out() const { return left_out_; }
  /// True if a rehearsal has run, to whatever end.
  [[nodiscard]] bool any_ran() const { return any_ran_; }
  /// True if one of them was stopped before its end.
  [[nodiscard]] bool any_cut_short() const { return any_cut_short_; }

 private:
  struct Ran {
    Verdict verdict;
    double seconds = 0.0;
    enum class How : std::uint8_t { to_an_end, let_down, left_out } how = How::to_an_end;
    std::string problem;  ///< of one that was let down
  };
  void perform(std::size_t index, std::size_t worker, const RunSetting& setting);
  void perform_all(const std::vector<std::size_t>& indices, const RunSetting& setting);
  void tell(std::size_t index);
  void say_how_it_went(std::size_t index);
  void forget_details(Verdict& verdict) const;

  const RehearseOptions& options_;
  const Plan& plan_;
  Stopping& stopping_;
  Console console_;
  bool several_;
  std::vector<Ran> runs_;
  std::optional<std::string> problem_;
  std::size_t left_out_ = 0;
  bool any_ran_ = false;
  bool any_cut_short_ = false;
  std::set<std::size_t> shown_;  ///< scenarios whose first failure has been shown whole
};

void Performance::perform(std::size_t index, std::size_t worker, const RunSetting& setting) {
  const auto& planned = plan_.rehearsals[index];
  const auto& scenario = plan_.scenarios[planned.scenario];
  auto& ran = runs_[index];
  const std::string suffix = plan_.repeats ? " (seed " + std::to_string(planned.seed) + ")" : "";
  if (stopping_.asked()) {
    ran.how = Ran::How::left_out;
    ran.verdict = not_run(scenario, planned.seed, "the run was stopped before it began");
  } else {
    console_.began(scenario.file_stem + suffix);
    const auto began = std::chrono::steady_clock::now();
    auto run = on_wall_clock(scenario, options_) ? run_on_wall(scenario, planned.seed, setting)
                                                 : run_stepped(scenario, planned.seed, worker, setting);
    ran.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();
    if (run) {
      ran.verdict = std::move(run).value();
    } else {
      ran.how = Ran::How::let_down;
      ran.problem = run.error();
      ran.verdict = not_run(scenario, planned.seed, "the surroundings failed");
      stopping_.ask();
    }
    console_.ended(scenario.file_stem + suffix, ran.verdict.passed);
  }
  ran.verdict.version = EMBERLINE_VERSION;
  ran.verdict.title += suffix;
}

void Performance::say_how_it_went(std::size_t index) {
  const auto& ran = runs_[index];
  const auto& verdict = ran.verdict;
  if (!several_) {
    console_.say(io::terminal_report(verdict, colour_wanted()) + "\n");
    return;
  }
  if (!verdict.passed && shown_.insert(plan_.rehearsals[index].scenario).second) {
    console_.say("\n" + io::terminal_report(verdict, colour_wanted()) + "\n");
    return;
  }
  console_.say(verdict_line(verdict, ran.seconds, colour_wanted()) +
               (verdict.passed ? "" : failures_text(verdict)));
}

/// Thousands of repeats would fill the memory with what no file asks for.
void Performance::forget_details(Verdict& verdict) const {
  if (!options_.json.empty() || !options_.report.empty() || !options_.trends.empty()) return;
  verdict.trends = {};
  if (!options_.junit.empty()) return;
  verdict.journal = {};
  verdict.outcomes = {};
  verdict.writes = {};
  verdict.traffic = {};
  verdict.plan_reviews = {};
}

void Performance::tell(std::size_t index) {
  auto& ran = runs_[index];
  if (ran.how == Ran::How::left_out) {
    ++left_out_;
  } else if (ran.how == Ran::How::let_down) {
    if (!problem_) problem_ = ran.problem;
  } else {
    any_ran_ = true;
    say_how_it_went(index);
    if (const auto early = cut_short(plan_.scenarios[plan_.rehearsals[index].scenario], ran.verdict)) {
      any_cut_short_ = true;
      console_.say((several_ ? "        " : "") + *early + "\n");
    }
  }
  forget_details(ran.verdict);
}

void Performance::perform_all(const std::vector<std::size_t>& indices, const RunSetting& setting) {
  run_pool(
      indices.size(), plan_.jobs,
      [&](std::size_t job, std::size_t worker) { perform(indices[job], worker, setting); },
      [&](std::size_t job) { tell(indices[job]); });
}

void Performance::run() {
  const RunSetting setting{.options = options_,
                           .wait_for_master = plan_.wait_for_master,
                           .console = console_,
                           .stopping = stopping_,
                           .alone = !several_,
                           .side_by_side = plan_.jobs > 1 && runs_.size() > 1,
                           .first_core = sched_getcpu()};
  std::vector<std::size_t> order(runs_.size());
  std::iota(order.begin(), order.end(), 0);
  auto on_the_clock = order.end();
  // Those in stepped time keep every core busy; beside them those on the wall clock would answer late.
  if (plan_.jobs > 1)
    on_the_clock = std::stable_partition(order.begin(), order.end(), [this](std::size_t index) {
      return !on_wall_clock(plan_.scenarios[plan_.rehearsals[index].scenario], options_);
    });
  perform_all({order.begin(), on_the_clock}, setting);
  perform_all({on_the_clock, order.end()}, setting);
  console_.flush();
}

std::vector<Verdict> Performance::verdicts() {
  std::vector<Verdict> verdicts;
  verdicts.reserve(runs_.size());
  for (auto& ran : runs_) verdicts.push_back(std::move(ran.verdict));
  return verdicts;
}

void say_what_is_special(const RehearseOptions& options) {
  if (options.real_master) print(cautions());
  if (options.plant_speed != 1.0) print(plant_speed_caution(options.plant_speed));
}

/// Tells of all of them, writes what is asked for, and says how the program ends.
ExitCode conclude(const RehearseOptions& options, const Plan& plan, Performance& performance) {
  const auto verdicts = performance.verdicts();
  const bool passed =
      std::all_of(verdicts.begin(), verdicts.end(), [](const Verdict& verdict) { return verdict.passed; });
  if (const auto count = performance.left_out(); count > 0)
    print("stopped: " + std::to_string(count) + (count == 1 ? " rehearsal was" : " rehearsals were") +
          " not run and count as failed\n");
  if (plan.listed > 1 && !verdicts.empty()) print(summary_text(options, plan, verdicts));
  print(cautions());
  const bool written = write_results(options, plan, verdicts);
  const bool no_state = !options.save_state.empty() && performance.any_cut_short();
  if (no_state)
    complain("--save-state: " + options.save_state + " is not written: the run did not come to its end");
  if (performance.problem()) complain(*performance.problem());
  if (performance.problem() || !written) return kSurroundingsFailed;
  if (!passed) return kVerdictFailed;
  return no_state ? kSurroundingsFailed : kAllWell;
}

}  // namespace

int rehearse(const RehearseOptions& options) {
  const auto plan = plan_rehearsals(options);
  if (!plan) return kInputUnusable;
  if (const auto refused = results_refused(options, *plan)) return *refused;
  Stopping stopping;
  StopSignals signals;  // before any other thread
  signals.watch([&stopping] { stopping.ask(); });
  say_what_is_special(options);
  if (plan->rehearsals.empty())
    print("shard " + options.shard + " holds none of the " + std::to_string(plan->listed) +
          " rehearsals; nothing to do\n");
  Performance performance(options, *plan, stopping);
  performance.run();
  if (performance.problem() && !performance.any_ran()) {
    complain(*performance.problem());
    return kSurroundingsFailed;
  }
  return conclude(options, *plan, performance);
}

}  // namespace emberline::cli
