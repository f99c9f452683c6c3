#include <algorithm>
#include <filesystem>
#include <optional>
#include <string>
#include <system_error>

#include "sim/base/duration_text.hpp"
#include "sim/io/files/fingerprint.hpp"
#include "sim/io/files/paths.hpp"
#include "sim/io/files/scenario_master_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"
#include "sim/polling/time_words.hpp"

namespace emberline::io {
namespace {

using polling::PlannedRequest;
using polling::PollPlan;
using rehearsal::ProgramStep;

bool same_file(const std::string& one, const std::string& other) {
  std::error_code error;
  return std::filesystem::equivalent(one, other, error) && !error;
}

/// The plan of a file; null after complaints, which come once.
std::shared_ptr<const PollPlan> take_plan(const Node& node, const std::string& path, MasterDraft& draft) {
  auto& scenario = draft.scenario;
  const auto known = scenario.poll_plans.find(path);
  if (known != scenario.poll_plans.end()) return known->second;
  auto& plan = scenario.poll_plans[path];
  auto loaded = load_poll_plan(path);
  if (!loaded) {
    for (const auto& problem : loaded.error()) {
      // A file that cannot be used at all is a mistake of the line that names it.
      if (problem.place.line == 0) {
        complain(draft.problems(), node.place, "poll: " + problem.place.file + ": " + problem.message);
      } else {
        scenario.bench_problems.push_back(problem);
      }
    }
    return nullptr;
  }
  if (!same_file(loaded->wish.bench_file, scenario.spec.bench_file)) {
    complain(draft.problems(), node.place,
             "poll: " + path + " is made for the bench '" + loaded->wish.bench_file +
                 "', this scenario has '" + scenario.spec.bench_file + "'");
    return nullptr;
  }
  plan = std::make_shared<const PollPlan>(std::move(loaded).value());
  scenario.spec.poll_plans.push_back(plan);
  scenario.spec.files.push_back(fingerprint(path));
  return plan;
}

std::string duration_or_none(const std::optional<Duration>& duration) {
  return duration ? format_duration(*duration) : "none";
}

/// What the plan reckons with has to be what the stand-in does, or its figures would speak of another master.
void check_manners(const Node& node, const PollPlan& plan, MasterDraft& draft) {
  const auto& master = plan.wish.master;
  const auto& spec = draft.spec;
  const auto differs = [&](const std::string& key, const std::string& planned, const std::string& own) {
    if (planned == own) return;
    complain(draft.problems(), node.place,
             "poll: the plan reckons with " + key + " " + planned + ", this stand-in has " + own +
                 ": say the same in both");
  };
  differs("timeout", format_duration(master.timeout), format_duration(spec.timeout));
  differs("retries", std::to_string(master.retries), std::to_string(spec.retries));
  differs("retry_after", format_duration(master.retry_after), format_duration(spec.retry_after));
  if (master.pause > Duration{})
    complain(draft.problems(), node.place,
             "poll: the plan reckons with a pause of " + polling::time_words(master.pause) +
                 " before the next request, and a stand-in makes none: expected a plan without 'pause'");
  differs("poll_lost_every", duration_or_none(master.poll_lost_every),
          duration_or_none(spec.poll_lost_every));
}

/// Whether each request goes over the plan's line: over the first of the stand-in's that its slave is on.
bool goes_over_its_line(const Node& node, const PollPlan& plan, MasterDraft& draft) {
  const auto& bench = draft.scenario.spec.bench;
  const auto& own = draft.spec.lines;
  const auto& line = bench.lines[plan.wish.line].name;
  if (!draft.scenario.lines_known) return false;
  if (std::find(own.begin(), own.end(), line) == own.end()) {
    complain(draft.problems(), node.place,
             "poll: the plan is for the line " + line + ", this stand-in has only " + listed(own));
    return false;
  }
  for (const auto& request : plan.requests) {
    const auto& lines =
        request.io_block ? bench.io_blocks[request.slave].lines : bench.units[request.slave].unit.lines;
    const auto first = std::find_if(own.begin(), own.end(), [&](const std::string& candidate) {
      return std::find(lines.begin(), lines.end(), candidate) != lines.end();
    });
    if (first != own.end() && *first == line) continue;
    complain(draft.problems(), node.place,
             "poll: the plan is for the line " + line + ", but '" + request.slave_name + "' is asked over " +
                 (first == own.end() ? "none" : *first) +
                 ", which stands before it among the stand-in's lines");
    return false;
  }
  return true;
}

std::optional<ProgramStep> step_of(const PlannedRequest& request, const PollPlan& plan,
                                   const bench::BenchSpec& bench) {
  ProgramStep step;
  step.kind = ProgramStep::Kind::read;
  step.every = request.every;
  step.phase = request.phase;
  step.block = request.range;
  for (const auto place : request.brings) {
    auto target = rehearsal::resolve_target(bench, plan.wish.reads.at(place).name, false);
    if (target) step.reads.push_back(std::move(target).value());
  }
  if (step.reads.empty()) return std::nullopt;
  return step;
}

}  // namespace

void read_poll(const Node& node, Duration start, std::vector<ProgramStep>& program, MasterDraft& draft) {
  Fields fields(node, "{ poll: ../config/polls/my-plan.yaml }", draft.problems());
  const auto* poll = fields.optional("poll");
  std::string named;
  const bool has_name = read_text(poll, named, draft.problems());
  fields.done();
  if (!has_name || !draft.scenario.bench_known) return;
  const auto plan = take_plan(*poll, path_beside(draft.scenario.path, named), draft);
  if (!plan) return;
  check_manners(*poll, *plan, draft);
  if (!goes_over_its_line(*poll, *plan, draft)) return;
  if (plan->wish.reads.empty())
    complain(draft.problems(), poll->place,
             "poll: this plan reads nothing, and a stand-in takes its reads only");
  for (const auto& request : plan->requests) {
    if (request.write) continue;
    if (draft.scenario.ends_known && request.phase + start > draft.scenario.spec.ends.time_since_epoch())
      complain(draft.problems(), poll->place,
               "poll: the read of '" + request.slave_name + "' that begins after " +
                   format_duration(request.phase) + " is after the end of the run");
    if (auto step = step_of(request, *plan, draft.scenario.spec.bench)) program.push_back(std::move(*step));
  }
}

}  // namespace emberline::io
