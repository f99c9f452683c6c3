#include <algorithm>
#include <string>
#include <string_view>

#include "sim/base/duration_text.hpp"
#include "sim/io/files/scenario_master_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kMasterExample = "{ lines: [field], program: [ ... ] }";
constexpr int kMostFailures = 1'000'000;

void read_when_lost(const Node* node, MasterDraft& draft) {
  if (node == nullptr) return;
  Fields fields(*node, "{ after: 3 failures, write: nothing }", draft.problems());
  read_whole(fields.required("after",
                             "expected how many requests in a row have to be given up, such as '3 failures'"),
             {1, kMostFailures, "failures"}, draft.spec.lost_after, draft.problems());
  draft.spec.when_lost_writes = read_writes(fields.optional("write"), true, draft);
  draft.spec.when_lost_go = read_state_name(fields.optional("go"), draft);
  if (draft.spec.when_lost_go) draft.led_to[*draft.spec.when_lost_go] = true;
  fields.done();
}

void read_when_back(const Node* node, bool can_be_lost, MasterDraft& draft) {
  if (node == nullptr) return;
  Fields fields(*node, "{ write: { soak-heater.setpoint: 0 % } }", draft.problems());
  const auto* go = fields.optional("go");
  const auto* write = go != nullptr ? fields.optional("write")
                                    : fields.required("write", "expected what to write, or where to 'go'");
  draft.spec.when_back_writes = read_writes(write, true, draft);
  draft.spec.when_back_go = read_state_name(go, draft);
  if (draft.spec.when_back_go) draft.led_to[*draft.spec.when_back_go] = true;
  fields.done();
  if (!can_be_lost)
    complain(draft.problems(), node->header,
             "when_back: only a slave that was lost comes back, and 'when_lost: { after: 3 failures }' says "
             "when that is");
}

void read_lines(const Node* node, MasterDraft& draft) {
  auto& scenario = draft.scenario;
  const auto list = read_list(node, scenario.problems);
  for (const auto* item : list)
    if (!scenario.bench_known || scenario.names.check(*item, "lines", scenario.problems))
      draft.spec.lines.push_back(item->text);
  scenario.lines_known = !list.empty() && draft.spec.lines.size() == list.size();
}

/// Its own idea of a serial line.
void read_serial(const Node* node, MasterDraft& draft) {
  std::string text;
  if (!read_text(node, text, draft.problems())) return;
  const auto format = parse_serial_format(text);
  if (!format) return complain(draft.problems(), node->place, "serial: " + format.error());
  draft.spec.serial = *format;
  if (!draft.scenario.bench_known || !draft.scenario.lines_known) return;
  const auto& lines = draft.scenario.spec.bench.lines;
  const bool any = std::any_of(lines.begin(), lines.end(), [&](const bench::LineSpec& line) {
    const auto& own = draft.spec.lines;
    return !bench::over_tcp(line.kind) && std::find(own.begin(), own.end(), line.name) != own.end();
  });
  if (!any)
    complain(draft.problems(), node->header, "serial: " + listed(draft.spec.lines) + " is reached over TCP");
}

/// Whether an instant is within the run; else complains.
bool within_run(const Node& node, SimTime at, MasterDraft& draft) {
  if (!draft.scenario.ends_known || at <= draft.scenario.spec.ends) return true;
  complain(draft.problems(), node.place, label_of(node) + "'" + node.text + "' is after the end of the run");
  return false;
}

void read_restart(const Node& node, MasterDraft& draft) {
  auto& problems = draft.problems();
  rehearsal::Restart restart;
  Fields fields(node, "{ at: 60 s, after: 5 s }", problems);
  const auto* at = fields.required("at", "expected when its power fails, such as '60 s'");
  Duration since_start{};
  const bool has_at = read_duration(at, Bound::positive, since_start, problems);
  const bool has_after =
      read_duration(fields.required("after", "expected how long it is without power, such as '5 s'"),
                    Bound::positive, restart.after, problems);
  fields.done();
  if (!has_at || !has_after) return;
  restart.at = SimTime{since_start};
  if (!within_run(*at, restart.at, draft)) return;
  const auto& others = draft.spec.restarts;
  const SimTime begun = others.empty() ? draft.spec.starts : others.back().at + others.back().after;
  const std::string begins = format_duration(begun.time_since_epoch());
  if (restart.at <= begun)
    return complain(problems, at->place,
                    "at: '" + at->text + "' has to be after it has begun, which is at " + begins);
  if (draft.spec.stops && restart.at >= *draft.spec.stops)
    return complain(problems, at->place, "at: '" + at->text + "' is after it 'stops'");
  draft.spec.restarts.push_back(restart);
}

/// When it runs and when not.
void read_times(Fields& fields, MasterDraft& draft) {
  auto& problems = draft.problems();
  auto& spec = draft.spec;
  const auto* starts = fields.optional("starts");
  Duration since_start{};
  if (read_duration(starts, Bound::not_negative, since_start, problems) &&
      within_run(*starts, SimTime{since_start}, draft))
    spec.starts = SimTime{since_start};
  const auto* stops = fields.optional("stops");
  std::optional<Duration> end;
  if (read_duration(stops, Bound::positive, end, problems)) spec.stops = SimTime{*end};
  if (spec.stops && *spec.stops <= spec.starts) {
    complain(problems, stops->place, "stops: '" + stops->text + "' is not after it 'starts'");
    spec.stops.reset();
  }
  const auto* restarts = fields.optional("restarts");
  if (restarts == nullptr || restarts->kind == Node::Kind::refused) return;
  if (restarts->kind != Node::Kind::sequence) return read_restart(*restarts, draft);
  if (restarts->items.empty())
    complain_kind(*restarts, "power failures such as { at: 60 s, after: 5 s }", problems);
  for (const auto& item : restarts->items) read_restart(item, draft);
}

/// How it asks.
void read_manners(Fields& fields, MasterDraft& draft) {
  auto& problems = draft.problems();
  auto& spec = draft.spec;
  read_duration(fields.optional("timeout"), Bound::positive, spec.timeout, problems);
  read_whole(fields.optional("retries"), {0, kMostRetries}, spec.retries, problems);
  const auto* pause = fields.optional("retry_after");
  if (read_duration(pause, Bound::not_negative, spec.retry_after, problems) &&
      fields.node().find("retries") == nullptr)
    complain(problems, pause->header, "retry_after: there is no further try without 'retries'");
  const auto* poll_lost = fields.optional("poll_lost_every");
  read_duration(poll_lost, Bound::positive, spec.poll_lost_every, problems);
  if (poll_lost != nullptr && fields.node().find("when_lost") == nullptr)
    complain(problems, poll_lost->header,
             "poll_lost_every: nothing counts as lost here without 'when_lost: { after: 3 failures }'");
  read_serial(fields.optional("serial"), draft);
}

}  // namespace

void read_master(const Node& node, ScenarioDraft& scenario) {
  auto& problems = scenario.problems;
  MasterDraft draft(scenario);
  draft.spec.name = node.label;
  scenario.names.declare("stand-in", node, problems);
  Fields fields(node, kMasterExample, problems);
  read_lines(fields.required("lines", "expected the lines it uses, such as [field]"), draft);
  const auto* states = fields.optional("states");
  if (states != nullptr && states->kind == Node::Kind::mapping) {
    for (const auto& state : states->entries) draft.state_names.push_back(state.label);
    draft.led_to.resize(draft.state_names.size(), false);
  }
  read_times(fields, draft);
  read_manners(fields, draft);
  const auto* program = fields.node().find("states") != nullptr
                            ? fields.optional("program")
                            : fields.required("program", "expected what it does");
  draft.spec.program = read_program(program, std::nullopt, draft.spec.starts.time_since_epoch(), draft);
  const auto* when_lost = fields.optional("when_lost");
  read_when_lost(when_lost, draft);
  read_when_back(fields.optional("when_back"), when_lost != nullptr, draft);
  read_states(states, fields.optional("starts_in"), draft);
  read_alarms(fields.optional("alarms"), draft);
  fields.done();
  check_states(states, draft);
  scenario.spec.masters.push_back(std::move(draft.spec));
}

}  // namespace emberline::io
