#include <algorithm>
#include <string>
#include <string_view>

#include "sim/io/files/fields.hpp"
#include "sim/io/files/scenario_parts.hpp"
#include "sim/io/files/signal_value.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

using rehearsal::MasterSpec;
using rehearsal::ProgramStep;
using rehearsal::Target;

constexpr std::string_view kMasterExample = "{ lines: [field], program: [ ... ] }";
constexpr std::string_view kStepExample = "{ every: 2 s, read: [soak-heater.load_current_l1] }";
constexpr int kMostRetries = 100;
constexpr int kMostFailures = 1'000'000;
/// Below this a program would be busy with itself instead of with the line.
constexpr Duration kShortestPeriod = std::chrono::milliseconds{1};

/// Finds where a value stands on the wire, and that this stand-in can get there.
std::optional<Target> read_target(const Node& at, const Place& place, const std::string& name,
                                  bool for_writing, const MasterSpec& master, ScenarioDraft& draft) {
  if (!draft.bench_known) return std::nullopt;
  auto target = rehearsal::resolve_target(draft.spec.bench, name, for_writing);
  if (!target) {
    complain(draft.problems, place, label_of(at) + target.error());
    return std::nullopt;
  }
  const auto& lines = target->lines;
  const bool reachable = std::any_of(lines.begin(), lines.end(), [&](const std::string& line) {
    return std::find(master.lines.begin(), master.lines.end(), line) != master.lines.end();
  });
  if (!reachable && draft.lines_known) {
    complain(draft.problems, place,
             label_of(at) + "'" + name + "' cannot be reached over " + listed(master.lines) + ", only over " +
                 listed(lines));
    return std::nullopt;
  }
  return std::move(target).value();
}

/// `{ soak-heater.setpoint: 50 % }`, or the word `nothing` where that may be said.
std::vector<rehearsal::Write> read_writes(const Node* node, bool nothing_allowed, const MasterSpec& master,
                                          ScenarioDraft& draft) {
  std::vector<rehearsal::Write> writes;
  if (node == nullptr) return writes;
  if (nothing_allowed && node->kind == Node::Kind::scalar && node->text == "nothing") return writes;
  if (node->kind != Node::Kind::mapping || node->entries.empty()) {
    complain_kind(*node,
                  nothing_allowed ? "values such as { soak-heater.setpoint: 0 % }, or 'nothing'"
                                  : "values such as { soak-heater.setpoint: 50 % }",
                  draft.problems);
    return writes;
  }
  for (const auto& entry : node->entries) {
    auto target = read_target(*node, entry.header, entry.label, true, master, draft);
    double value = 0.0;
    if (target && read_signal_value(entry, target->info, value, draft.problems))
      writes.push_back({std::move(*target), value});
  }
  return writes;
}

void read_control_keys(Fields& fields, const Node& control, const MasterSpec& master, ProgramStep& step,
                       ScenarioDraft& draft) {
  auto& problems = draft.problems;
  step.kind = ProgramStep::Kind::control;
  std::string name;
  if (read_text(&control, name, problems))
    step.output = read_target(control, control.place, name, true, master, draft);
  if (step.output && step.output->info.dimension != Dimension::ratio)
    complain_kind(control, "a percentage to act on, such as UNIT.setpoint", problems);
  const auto* from = fields.required("from", "expected the signal to hold");
  if (read_text(from, name, problems))
    step.measured = read_target(*from, from->place, name, false, master, draft);
  if (step.measured && step.measured->info.dimension != Dimension::temperature)
    complain(problems, from->place,
             "from: control of '" + name + "' is not there yet; known now: temperatures");
  read_quantity(fields.required("target"), Dimension::temperature, Bound::any, step.target_value, problems);
  read_quantity(fields.required("gain", "expected one such as '4 %/K'"), Dimension::gain, Bound::positive,
                step.gain, problems);
  const auto* integral_time = fields.optional("integral_time");
  if (read_duration(integral_time, Bound::not_negative, step.integral_time, problems) &&
      step.integral_time == Duration{})
    complain(problems, integral_time->place,
             "integral_time: '" + integral_time->text +
                 "' must be above 0; a loop without integral part leaves "
                 "the key out");
}

/// `at` once, or `every` so often.
void read_when(Fields& fields, bool repeats, ProgramStep& step, ScenarioDraft& draft) {
  const auto* at = fields.optional("at");
  const auto* every = fields.optional("every");
  auto& problems = draft.problems;
  if (at != nullptr && every != nullptr)
    complain(problems, every->header, "a step runs 'at' a time or 'every' period, not both");
  if (repeats && at != nullptr && every == nullptr)
    complain(problems, at->header, "a control loop runs again and again: expected 'every' instead of 'at'");
  const bool neither = fields.node().find("at") == nullptr && fields.node().find("every") == nullptr;
  if (neither && fields.is_mapping())
    complain(problems, fields.node().place, "when? expected 'at: 1 s' or 'every: 2 s'");
  step.at = read_instant(at, problems);
  // Nothing would tell that a step was never reached, unlike an anchor, which the judge asks for.
  if (step.at && draft.ends_known && *step.at > draft.spec.ends)
    complain(problems, at->place, "at: '" + at->text + "' is after the end of the run");
  if (every == nullptr) return;
  if (read_duration(every, Bound::positive, step.every, problems) && *step.every < kShortestPeriod)
    complain_kind(*every, "a period of 1 ms or more", problems);
}

void read_step(const Node& node, MasterSpec& master, ScenarioDraft& draft) {
  auto& problems = draft.problems;
  ProgramStep step;
  Fields fields(node, kStepExample, problems);
  const auto* read = fields.optional("read");
  const auto* write = fields.optional("write");
  const auto* control = fields.optional("control");
  const int actions = (read != nullptr ? 1 : 0) + (write != nullptr ? 1 : 0) + (control != nullptr ? 1 : 0);
  read_when(fields, control != nullptr, step, draft);
  if (actions != 1 && fields.is_mapping())
    complain(problems, node.place,
             "a step does one thing, expected exactly one of 'read', 'write' and 'control'");
  if (read != nullptr) {
    step.kind = ProgramStep::Kind::read;
    for (const auto* item : read_list(read, problems))
      if (auto target = read_target(*read, item->place, item->text, false, master, draft))
        step.reads.push_back(std::move(*target));
  }
  if (write != nullptr) {
    step.kind = ProgramStep::Kind::write;
    step.writes = read_writes(write, false, master, draft);
  }
  if (control != nullptr) {
    read_control_keys(fields, *control, master, step, draft);
  } else {
    for (const auto key : {"from", "target", "gain", "integral_time"})
      fields.refuse(key, "goes with 'control' only");
  }
  fields.done();
  master.program.push_back(std::move(step));
}

void read_when_lost(const Node* node, MasterSpec& master, ScenarioDraft& draft) {
  if (node == nullptr) return;
  Fields fields(*node, "{ after: 3 failures, write: nothing }", draft.problems);
  read_whole(fields.required("after",
                             "expected how many requests in a row have to be given up, such as '3 failures'"),
             {1, kMostFailures, "failures"}, master.lost_after, draft.problems);
  master.when_lost_writes = read_writes(fields.optional("write"), true, master, draft);
  fields.done();
}

void read_when_back(const Node* node, bool can_be_lost, MasterSpec& master, ScenarioDraft& draft) {
  if (node == nullptr) return;
  Fields fields(*node, "{ write: { soak-heater.setpoint: 0 % } }", draft.problems);
  master.when_back_writes = read_writes(fields.required("write"), true, master, draft);
  fields.done();
  if (!can_be_lost)
    complain(draft.problems, node->header,
             "when_back: only a slave that was lost comes back, and 'when_lost: { after: 3 failures }' says "
             "when that is");
}

void read_program(const Node* node, MasterSpec& master, ScenarioDraft& draft) {
  if (node == nullptr || node->kind == Node::Kind::refused) return;
  if (node->kind != Node::Kind::sequence || node->items.empty())
    return complain_kind(*node, "a list of steps such as { every: 2 s, read: [soak.measured] }",
                         draft.problems);
  for (const auto& item : node->items) read_step(item, master, draft);
}

void read_lines(const Node* node, MasterSpec& master, ScenarioDraft& draft) {
  const auto list = read_list(node, draft.problems);
  for (const auto* item : list)
    if (!draft.bench_known || draft.names.check(*item, "lines", draft.problems))
      master.lines.push_back(item->text);
  draft.lines_known = !list.empty() && master.lines.size() == list.size();
}

}  // namespace

void read_master(const Node& node, ScenarioDraft& draft) {
  auto& problems = draft.problems;
  MasterSpec master;
  master.name = node.label;
  draft.names.declare("stand-in", node, problems);
  Fields fields(node, kMasterExample, problems);
  read_lines(fields.required("lines", "expected the lines it uses, such as [field]"), master, draft);
  read_duration(fields.optional("timeout"), Bound::positive, master.timeout, problems);
  read_whole(fields.optional("retries"), {0, kMostRetries}, master.retries, problems);
  std::optional<Duration> stops;
  read_duration(fields.optional("stops"), Bound::positive, stops, problems);
  if (stops) master.stops = SimTime{*stops};
  read_program(fields.required("program", "expected what it does"), master, draft);
  const auto* when_lost = fields.optional("when_lost");
  read_when_lost(when_lost, master, draft);
  read_when_back(fields.optional("when_back"), when_lost != nullptr, master, draft);
  fields.done();
  draft.spec.masters.push_back(std::move(master));
}

}  // namespace emberline::io
