#include <algorithm>
#include <string>
#include <string_view>

#include "sim/base/duration_text.hpp"
#include "sim/io/files/scenario_master_parts.hpp"
#include "sim/io/files/signal_value.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

using rehearsal::ProgramStep;
using rehearsal::Target;

constexpr std::string_view kStepExample = "{ every: 2 s, read: [soak-heater.load_current_l1] }";

/// `phase`: how long after the beginning a period first begins.
void read_phase(Fields& fields, Duration start, ProgramStep& step, MasterDraft& draft) {
  auto& problems = draft.problems();
  if (fields.node().find("every") == nullptr) return fields.refuse("phase", "goes with 'every' only");
  const auto* phase = fields.optional("phase");
  if (!read_duration(phase, Bound::not_negative, step.phase, problems) || !step.every) return;
  if (step.phase >= *step.every)
    complain(
        problems, phase->place,
        "phase: '" + phase->text + "' has to be less than 'every', which is " + format_duration(*step.every));
  if (draft.scenario.ends_known && step.phase + start > draft.scenario.spec.ends.time_since_epoch())
    complain(problems, phase->place, "phase: '" + phase->text + "' is after the end of the run");
}

/// `at` once, or `every` so often.
void read_when(Fields& fields, bool repeats, Duration start, ProgramStep& step, MasterDraft& draft) {
  const auto* at = fields.optional("at");
  const auto* every = fields.optional("every");
  auto& problems = draft.problems();
  if (at != nullptr && every != nullptr)
    complain(problems, every->header, "a step runs 'at' a time or 'every' period, not both");
  if (repeats && at != nullptr && every == nullptr)
    complain(problems, at->header, "this runs again and again: expected 'every' instead of 'at'");
  const bool neither = fields.node().find("at") == nullptr && fields.node().find("every") == nullptr;
  if (neither && fields.is_mapping())
    complain(problems, fields.node().place, "when? expected 'at: 1 s' or 'every: 2 s'");
  step.at = read_instant(at, problems);
  // Nothing would tell that a step was never reached, unlike an anchor, which the judge asks for.
  if (step.at && draft.scenario.ends_known && *step.at + start > draft.scenario.spec.ends)
    complain(problems, at->place, "at: '" + at->text + "' is after the end of the run");
  const auto& stops = draft.spec.stops;
  if (step.at && stops && *step.at + start >= *stops)
    complain(problems, at->place, "at: '" + at->text + "' is after the program 'stops'");
  if (read_duration(every, Bound::positive, step.every, problems) && *step.every < kShortestPeriod)
    complain_kind(*every, "a period of 1 ms or more", problems);
  read_phase(fields, start, step, draft);
}

void read_ramp(const Node& entry, ProgramStep& step, MasterDraft& draft) {
  auto& problems = draft.problems();
  rehearsal::RampWrite ramp;
  auto target = read_target(entry, entry.header, entry.label, true, draft);
  if (target && !is_quantity(target->info)) {
    complain(problems, entry.header,
             "ramp: only a quantity can move bit by bit, '" + entry.label + "' is none");
    target.reset();
  }
  Fields fields(entry, "{ from: 0 %, to: 60 %, over: 30 s }", problems);
  const auto* from = fields.required("from", "expected where it starts, such as '0 %'");
  const auto* to = fields.required("to", "expected where it ends, such as '60 %'");
  const bool has_time = read_duration(fields.required("over", "expected how long it takes, such as '30 s'"),
                                      Bound::positive, ramp.over, problems);
  fields.done();
  if (!target || from == nullptr || to == nullptr) return;
  const bool has_from = read_signal_value(*from, target->info, ramp.from, problems);
  const bool has_to = read_signal_value(*to, target->info, ramp.to, problems);
  ramp.target = std::move(*target);
  if (has_time && has_from && has_to) step.ramps.push_back(std::move(ramp));
}

void read_ramps(const Node& node, ProgramStep& step, MasterDraft& draft) {
  step.kind = ProgramStep::Kind::ramp;
  if (node.kind != Node::Kind::mapping || node.entries.empty())
    return complain_kind(node, "points such as { soak-heater.setpoint: { from: 0 %, to: 60 %, over: 30 s } }",
                         draft.problems());
  for (const auto& entry : node.entries) read_ramp(entry, step, draft);
}

void read_count(const Node& node, ProgramStep& step, MasterDraft& draft) {
  step.kind = ProgramStep::Kind::count;
  std::string name;
  if (!read_text(&node, name, draft.problems())) return;
  step.output = read_target(node, node.place, name, true, draft);
  if (!step.output) return;
  if (!is_quantity(step.output->info) || step.output->info.dimension != Dimension::number)
    complain_kind(node, "a plain number to count in, such as UNIT.heartbeat", draft.problems());
}

void read_reads(const Node& node, ProgramStep& step, MasterDraft& draft) {
  step.kind = ProgramStep::Kind::read;
  for (const auto* item : read_list(&node, draft.problems()))
    if (auto target = read_target(node, item->place, item->text, false, draft))
      step.reads.push_back(std::move(*target));
}

ProgramStep read_step(const Node& node, std::optional<std::size_t> state, Duration start,
                      MasterDraft& draft) {
  auto& problems = draft.problems();
  ProgramStep step;
  Fields fields(node, kStepExample, problems);
  const auto* read = fields.optional("read");
  const auto* write = fields.optional("write");
  const auto* control = fields.optional("control");
  const auto* ramp = fields.optional("ramp");
  const auto* count = fields.optional("count");
  int actions = 0;
  for (const auto* action : {read, write, control, ramp, count}) actions += action != nullptr ? 1 : 0;
  read_when(fields, control != nullptr || ramp != nullptr || count != nullptr, start, step, draft);
  if (actions != 1 && fields.is_mapping())
    complain(problems, node.place,
             "a step does one thing, expected exactly one of 'read', 'write', 'control', 'ramp', 'count' and "
             "'poll'");
  if (read != nullptr) read_reads(*read, step, draft);
  if (write != nullptr) {
    step.kind = ProgramStep::Kind::write;
    step.writes = read_writes(write, false, draft);
  }
  if (ramp != nullptr) read_ramps(*ramp, step, draft);
  if (count != nullptr) read_count(*count, step, draft);
  read_control_keys(fields, control, step, draft);
  if (read != nullptr || count != nullptr) {
    fields.refuse("on_change", "goes with 'write', 'ramp' and 'control' only");
  } else {
    read_switch(fields.optional("on_change"), step.on_change, problems);
  }
  step.when = read_trigger(fields.optional("when"), state, draft);
  fields.done();
  return step;
}

}  // namespace

std::optional<Target> read_target(const Node& at, const Place& place, const std::string& name,
                                  bool for_writing, MasterDraft& draft) {
  auto& scenario = draft.scenario;
  if (!scenario.bench_known) return std::nullopt;
  auto target = rehearsal::resolve_target(scenario.spec.bench, name, for_writing);
  if (!target) {
    draft.targets_known = false;
    complain(scenario.problems, place, label_of(at) + target.error());
    return std::nullopt;
  }
  const auto& own = draft.spec.lines;
  const auto& lines = target->lines;
  const bool reachable = std::any_of(lines.begin(), lines.end(), [&](const std::string& line) {
    return std::find(own.begin(), own.end(), line) != own.end();
  });
  if (!reachable && scenario.lines_known) {
    draft.targets_known = false;
    complain(scenario.problems, place,
             label_of(at) + "'" + name + "' cannot be reached over " + listed(own) + ", only over " +
                 listed(lines));
    return std::nullopt;
  }
  return std::move(target).value();
}

std::vector<rehearsal::Write> read_writes(const Node* node, bool nothing_allowed, MasterDraft& draft) {
  std::vector<rehearsal::Write> writes;
  if (node == nullptr) return writes;
  if (nothing_allowed && node->kind == Node::Kind::scalar && node->text == "nothing") return writes;
  if (node->kind != Node::Kind::mapping || node->entries.empty()) {
    complain_kind(*node,
                  nothing_allowed ? "values such as { soak-heater.setpoint: 0 % }, or 'nothing'"
                                  : "values such as { soak-heater.setpoint: 50 % }",
                  draft.problems());
    return writes;
  }
  for (const auto& entry : node->entries) {
    auto target = read_target(*node, entry.header, entry.label, true, draft);
    double value = 0.0;
    if (target && read_signal_value(entry, target->info, value, draft.problems()))
      writes.push_back({std::move(*target), value});
  }
  return writes;
}

std::vector<ProgramStep> read_program(const Node* node, std::optional<std::size_t> state, Duration start,
                                      MasterDraft& draft) {
  std::vector<ProgramStep> program;
  if (node == nullptr || node->kind == Node::Kind::refused) return program;
  if (node->kind != Node::Kind::sequence || node->items.empty()) {
    complain_kind(*node, "a list of steps such as { every: 2 s, read: [soak.measured] }", draft.problems());
    return program;
  }
  for (const auto& item : node->items) {
    if (item.find("poll") != nullptr) {
      read_poll(item, start, program, draft);
    } else {
      program.push_back(read_step(item, state, start, draft));
    }
  }
  return program;
}

}  // namespace emberline::io
