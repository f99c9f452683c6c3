#include <algorithm>
#include <set>
#include <string>
#include <string_view>
#include <utility>

#include "sim/io/files/scenario_master_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"
#include "sim/rehearsal/master_targets.hpp"

namespace emberline::io {
namespace {

using rehearsal::SlaveCondition;
using rehearsal::Trigger;

constexpr std::string_view kWayExample = "{ to: safe, after: 5 s }";

/// The unit or io-block of that name.
bool find_slave(const bench::BenchSpec& bench, const std::string& name, SlaveCondition& condition) {
  condition.slave_name = name;
  for (std::size_t i = 0; i < bench.units.size(); ++i) {
    if (bench.units[i].unit.name != name) continue;
    condition.slave = i;
    return true;
  }
  for (std::size_t i = 0; i < bench.io_blocks.size(); ++i) {
    if (bench.io_blocks[i].name != name) continue;
    condition.slave = i;
    condition.io_block = true;
    return true;
  }
  return false;
}

/// `lost: soak-heater`, or a list of them.
void read_slaves(const Node* node, SlaveCondition::Kind kind, Trigger& trigger, MasterDraft& draft) {
  const auto& bench = draft.scenario.spec.bench;
  for (const auto* item : read_list(node, draft.problems())) {
    if (!draft.scenario.bench_known) continue;
    SlaveCondition condition;
    condition.kind = kind;
    if (find_slave(bench, item->text, condition)) {
      draft.asked_slaves.push_back({item->place, node->label, condition});
      trigger.slaves.push_back(std::move(condition));
      continue;
    }
    std::vector<std::string> known;
    for (const auto& unit : bench.units) known.push_back(unit.unit.name);
    for (const auto& block : bench.io_blocks) known.push_back(block.name);
    complain(draft.problems(), item->place,
             node->label + ": " + unknown("unit or I/O block", item->text, known));
  }
}

void read_way(const Node& node, std::size_t state, rehearsal::MasterState& into, MasterDraft& draft) {
  auto& problems = draft.problems();
  rehearsal::Transition way;
  Fields fields(node, kWayExample, problems);
  const auto to = read_state_name(fields.required("to", "expected a state"), draft);
  const auto* after = fields.optional("after");
  const auto* when = fields.optional("when");
  if (after != nullptr && when != nullptr)
    complain(problems, when->header, "a way out has 'after' or 'when', not both");
  const bool neither = node.find("after") == nullptr && node.find("when") == nullptr;
  if (neither && fields.is_mapping())
    complain(problems, node.place,
             "when? expected 'after: 5 s' or 'when: { soak.measured: { above: 540 degC } }'");
  if (read_duration(after, Bound::positive, way.after, problems) && *way.after < kShortestPeriod)
    complain_kind(*after, "a time of 1 ms or more", problems);
  way.when = read_trigger(when, state, draft);
  if (when != nullptr) {
    read_duration(fields.optional("for"), Bound::positive, way.holds_for, problems);
  } else {
    fields.refuse("for", "goes with 'when' only");
  }
  fields.done();
  if (!to) return;
  way.to = *to;
  if (*to != state) draft.led_to[*to] = true;
  into.go.push_back(std::move(way));
}

void read_state(const Node& node, std::size_t index, MasterDraft& draft) {
  auto& problems = draft.problems();
  rehearsal::MasterState state;
  state.name = node.label;
  Fields fields(node, "{ program: [ ... ], go: [" + std::string(kWayExample) + "] }", problems);
  if (const auto* entry = fields.optional("on_entry")) {
    Fields inner(*entry, "{ write: { soak-heater.setpoint: 0 % } }", problems);
    state.on_entry = read_writes(inner.required("write"), false, draft);
    inner.done();
  }
  state.program = read_program(fields.optional("program"), index, Duration::zero(), draft);
  const auto* go = fields.optional("go");
  if (go != nullptr && go->kind != Node::Kind::refused) {
    if (go->kind != Node::Kind::sequence || go->items.empty()) {
      complain_kind(*go, "a list of ways out such as " + std::string(kWayExample), problems);
    } else {
      for (const auto& item : go->items) read_way(item, index, state, draft);
    }
  }
  fields.done();
  draft.spec.states.push_back(std::move(state));
}

void read_alarm(const Node& node, MasterDraft& draft, std::set<std::string>& names) {
  auto& problems = draft.problems();
  rehearsal::Alarm alarm;
  Fields fields(node, "{ name: too hot, when: { soak.measured: { above: 600 degC } } }", problems);
  const auto* name = fields.required("name", "expected what the journal calls it");
  if (read_text(name, alarm.name, problems) && !names.insert(alarm.name).second)
    complain(problems, name->place, "name: there is an alarm '" + alarm.name + "' already");
  alarm.when = read_trigger(fields.required("when", "expected what it watches for"), std::nullopt, draft);
  read_duration(fields.optional("for"), Bound::positive, alarm.holds_for, problems);
  alarm.writes = read_writes(fields.optional("write"), false, draft);
  alarm.go = read_state_name(fields.optional("go"), draft);
  if (alarm.go) draft.led_to[*alarm.go] = true;
  if (const auto* clears = fields.optional("clears")) {
    Fields inner(*clears, "{ write: { marshalling.coil.3: off } }", problems);
    alarm.clears_writes = read_writes(inner.required("write"), false, draft);
    inner.done();
  }
  fields.done();
  draft.spec.alarms.push_back(std::move(alarm));
}

/// Names that are read where a condition is looked at.
std::vector<std::string> names_read(const rehearsal::MasterSpec& spec, std::optional<std::size_t> state) {
  rehearsal::MasterSpec part;
  part.program = spec.program;
  if (state && *state < spec.states.size()) {
    part.states.push_back(spec.states[*state]);
  } else if (!state) {
    part.states = spec.states;
  }
  std::vector<std::string> names;
  for (const auto* target : rehearsal::read_targets(part))
    if (std::find(names.begin(), names.end(), target->name) == names.end()) names.push_back(target->name);
  return names;
}

void check_reading(const MasterDraft::AskedReading& asked, MasterDraft& draft) {
  const auto names = names_read(draft.spec, asked.state);
  if (std::find(names.begin(), names.end(), asked.name) != names.end()) return;
  std::string text = asked.label + "'" + asked.name + "' is never read";
  if (asked.state) text += " in state '" + draft.state_names[*asked.state] + "'";
  text += ", so that this could never hold; read there: " + listed(names);
  complain(draft.problems(), asked.place, text);
}

void check_slave(const MasterDraft::AskedSlave& asked, MasterDraft& draft) {
  const auto& condition = asked.condition;
  auto targets = rehearsal::read_targets(draft.spec);
  const auto written = rehearsal::write_targets(draft.spec);
  targets.insert(targets.end(), written.begin(), written.end());
  const bool is_asked = std::any_of(targets.begin(), targets.end(), [&](const auto* target) {
    return target->io_block == condition.io_block && target->slave == condition.slave;
  });
  if (!is_asked)
    return complain(draft.problems(), asked.place,
                    asked.key + ": this stand-in never asks '" + condition.slave_name + "' for anything");
  if (condition.kind != SlaveCondition::Kind::refused && !draft.spec.lost_after)
    complain(draft.problems(), asked.place,
             asked.key + ": nothing counts as lost here without 'when_lost: { after: 3 failures }'");
}

}  // namespace

Trigger read_trigger(const Node* node, std::optional<std::size_t> state, MasterDraft& draft) {
  Trigger trigger;
  if (node == nullptr || node->kind == Node::Kind::refused) return trigger;
  Node readings = *node;
  // Signals have a dot in their names, these words have none.
  std::erase_if(readings.entries, [](const Node& entry) {
    return entry.label == "lost" || entry.label == "back" || entry.label == "refused";
  });
  if (node->kind == Node::Kind::mapping) {
    read_slaves(node->find("lost"), SlaveCondition::Kind::lost, trigger, draft);
    read_slaves(node->find("back"), SlaveCondition::Kind::back, trigger, draft);
    read_slaves(node->find("refused"), SlaveCondition::Kind::refused, trigger, draft);
  }
  if (readings.entries.empty() && !node->entries.empty()) return trigger;
  trigger.readings = read_conditions(readings, draft.scenario);
  for (const auto& condition : trigger.readings) {
    const auto* entry = node->find(condition.name);
    draft.asked_readings.push_back(
        {entry != nullptr ? entry->header : node->place, label_of(*node), condition.name, state});
  }
  return trigger;
}

std::optional<std::size_t> read_state_name(const Node* node, MasterDraft& draft) {
  std::string name;
  if (!read_text(node, name, draft.problems())) return std::nullopt;
  const auto& names = draft.state_names;
  const auto found = std::find(names.begin(), names.end(), name);
  if (found != names.end()) return static_cast<std::size_t>(found - names.begin());
  complain(
      draft.problems(), node->place,
      label_of(*node) + (names.empty() ? "there is no state '" + name + "', this stand-in has no 'states'"
                                       : unknown("state", name, names)));
  return std::nullopt;
}

void read_states(const Node* node, const Node* starts_in, MasterDraft& draft) {
  if (node != nullptr && node->kind != Node::Kind::refused) {
    if (node->kind != Node::Kind::mapping || node->entries.empty())
      return complain_kind(*node, "states such as { idle: { go: [" + std::string(kWayExample) + "] } }",
                           draft.problems());
    for (std::size_t i = 0; i < node->entries.size(); ++i) read_state(node->entries[i], i, draft);
  }
  draft.spec.starts_in = read_state_name(starts_in, draft).value_or(0);
  if (!draft.led_to.empty()) draft.led_to[draft.spec.starts_in] = true;
}

void read_alarms(const Node* node, MasterDraft& draft) {
  if (node == nullptr || node->kind == Node::Kind::refused) return;
  if (node->kind != Node::Kind::sequence || node->items.empty())
    return complain_kind(
        *node, "a list of alarms such as { name: too hot, when: { soak.measured: { above: 600 degC } } }",
        draft.problems());
  std::set<std::string> names;
  for (const auto& item : node->items) read_alarm(item, draft, names);
}

void check_states(const Node* states, MasterDraft& draft) {
  if (draft.targets_known && draft.scenario.bench_known) {
    for (const auto& asked : draft.asked_readings) check_reading(asked, draft);
    for (const auto& asked : draft.asked_slaves) check_slave(asked, draft);
  }
  if (states == nullptr || states->kind != Node::Kind::mapping) return;
  for (std::size_t i = 0; i < draft.led_to.size(); ++i) {
    if (draft.led_to[i]) continue;
    complain(draft.problems(), states->entries[i].header,
             "nothing leads to state '" + draft.state_names[i] +
                 "': expected a 'go' to it, or 'starts_in: " + draft.state_names[i] + "'");
  }
}

}  // namespace emberline::io
