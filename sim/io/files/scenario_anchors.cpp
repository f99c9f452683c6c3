#include <algorithm>
#include <string>
#include <string_view>

#include "sim/base/duration_text.hpp"
#include "sim/io/files/fields.hpp"
#include "sim/io/files/scenario_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"
#include "sim/rehearsal/judge_words.hpp"
#include "sim/rehearsal/waiting.hpp"

namespace emberline::io {
namespace {

using rehearsal::Anchor;

constexpr std::string_view kExample =
    "a time such as '10 s', an entry of the timeline such as { cut: field }, or conditions such as "
    "{ soak-heater.state: running }";
constexpr int kMostOccurrences = 1'000'000;

bool is_signal(const Node& entry) { return entry.label.find('.') != std::string::npos; }

/// The keys of a mapping that say what is waited for: all but those that may stand beside.
Node without(const Node& node, std::initializer_list<std::string_view> beside) {
  Node rest = node;
  std::erase_if(rest.entries, [&](const Node& entry) {
    return std::find(beside.begin(), beside.end(), entry.label) != beside.end();
  });
  return rest;
}

bool read_conditions_of(const Node& node, Anchor& anchor, ScenarioDraft& draft) {
  const auto before = draft.problems.size();
  anchor.conditions = read_conditions(node, draft);
  anchor.text = rehearsal::words_of(anchor.conditions);
  return !anchor.conditions.empty() && draft.problems.size() == before;
}

bool read_entry_name(const Node& node, Anchor& anchor, ScenarioDraft& draft) {
  std::string name;
  if (!read_text(&node, name, draft.problems)) return false;
  const auto found = draft.entry_names.find(name);
  if (found == draft.entry_names.end()) {
    std::vector<std::string> known;
    for (const auto& [word, item] : draft.entry_names) known.push_back(word);
    complain(draft.problems, node.place,
             known.empty() ? "entry: no entry of the timeline has a name, found '" + name + "'"
                           : "entry: " + unknown("entry", name, known));
    return false;
  }
  const auto item = found->second;
  anchor.entry = draft.entry_places.empty() ? item : draft.entry_places[item];
  anchor.text = name;
  return true;
}

bool read_met(const Node& node, Anchor& anchor, ScenarioDraft& draft) {
  if (!read_text(&node, anchor.expectation, draft.problems)) return false;
  anchor.text = anchor.expectation;
  draft.met.push_back(node);
  return true;
}

bool read_done(const Node& node, Anchor& anchor, ScenarioDraft& draft) {
  if (faults::find_action(node.label) == nullptr) {
    std::vector<std::string> known;
    for (const auto* kind : faults::all_actions()) known.emplace_back(kind->word);
    known.insert(known.end(), {"entry", "met"});
    complain(draft.problems, node.header, unknown("action", node.label, known));
    return false;
  }
  const auto action = read_action(node, draft, nullptr);
  if (!action) return false;
  anchor.action_word = std::string(action->kind->word);
  anchor.action_target = action->target;
  anchor.text = action->text();
  return true;
}

/// One thing that can be waited for.
bool read_mapping(const Node& node, std::string_view example, Anchor& anchor, ScenarioDraft& draft) {
  if (node.kind != Node::Kind::mapping || node.entries.empty()) {
    complain_kind(node, example, draft.problems);
    return false;
  }
  const auto& first = node.entries.front();
  for (const auto& other : node.entries) {
    if (&other == &first || (is_signal(first) && is_signal(other))) continue;
    complain(draft.problems, other.header,
             "one thing to wait for, found '" + first.label + "' and '" + other.label + "'");
    return false;
  }
  if (is_signal(first)) return read_conditions_of(node, anchor, draft);
  if (first.label == "entry") return read_entry_name(first, anchor, draft);
  if (first.label == "met") return read_met(first, anchor, draft);
  return read_done(first, anchor, draft);
}

void read_plus(const Node& node, Anchor& anchor, Problems& problems) {
  if (!read_duration(node.find("plus"), Bound::not_negative, anchor.plus, problems)) return;
  anchor.text += " + " + format_duration(anchor.plus);
}

void read_nth(const Node* nth, Anchor& anchor, Problems& problems) {
  if (nth == nullptr) return;
  if (anchor.action_word.empty() && anchor.conditions.empty())
    return complain(problems, nth->header,
                    "nth: counts what can come again, so it needs an action such as { cut: field } or "
                    "conditions under 'after' or 'from'");
  if (read_whole(nth, {1, kMostOccurrences}, anchor.nth, problems) && anchor.nth > 1)
    anchor.text += " no. " + std::to_string(anchor.nth);
}

/// "'latches in time'", "'cut field'".
std::string name_of(const rehearsal::Waiting& waiting, const rehearsal::ScenarioSpec& spec) {
  if (!waiting.is_entry) return "'" + spec.expectations[waiting.index].name + "'";
  const auto& entry = spec.timeline[waiting.index];
  return "'" + (!entry.name.empty() ? entry.name : entry.action ? entry.action->text() : entry.ask) + "'";
}

void check_circles(ScenarioDraft& draft) {
  const auto& spec = draft.spec;
  const auto circle = rehearsal::find_circle(spec);
  if (!circle) return;
  const auto& first = circle->front();
  std::string text = name_of(first, spec) + " waits for ";
  for (std::size_t i = 1; i < circle->size(); ++i) {
    const auto name = name_of((*circle)[i], spec);
    text += name + ", " + name + " for ";
  }
  text += circle->size() == 1 ? "itself" : name_of(first, spec);
  text += circle->size() == 1 ? " and can never come" : ": none of them can ever come";
  complain(draft.problems,
           first.is_entry ? spec.timeline[first.index].place : spec.expectations[first.index].place,
           std::move(text));
}

}  // namespace

std::optional<Anchor> read_anchor(const Node* node, const Node* nth, ScenarioDraft& draft) {
  if (node == nullptr) {
    Anchor nothing;
    read_nth(nth, nothing, draft.problems);
    return std::nullopt;
  }
  if (node->kind == Node::Kind::refused) return std::nullopt;
  Anchor anchor;
  if (node->kind == Node::Kind::scalar) {
    anchor.text = node->text;
    anchor.at = read_instant(node, draft.problems);
    if (!anchor.at) return std::nullopt;
  } else {
    if (!read_mapping(without(*node, {"plus"}), kExample, anchor, draft)) return std::nullopt;
  }
  read_nth(nth, anchor, draft.problems);
  if (node->kind == Node::Kind::mapping) read_plus(*node, anchor, draft.problems);
  return anchor;
}

std::optional<Anchor> read_awaited(const Node& node, ScenarioDraft& draft) {
  const auto conditions = without(node, {"plus"});
  for (const auto& entry : conditions.entries) {
    if (is_signal(entry)) continue;
    complain(draft.problems, entry.header,
             "when: waits for conditions such as { soak.measured: { above: 540 degC } }, and everything else "
             "stands under 'after', found '" +
                 entry.label + "'");
    return std::nullopt;
  }
  Anchor anchor;
  if (!read_conditions_of(conditions, anchor, draft)) return std::nullopt;
  read_plus(node, anchor, draft.problems);
  return anchor;
}

std::optional<Anchor> read_step_moment(const Node& step, ScenarioDraft& draft) {
  Anchor anchor;
  if (const auto* plus = step.find("plus")) {
    complain(draft.problems, plus->header,
             "plus: a step comes when it comes, and 'within' says how soon after the one before");
    return std::nullopt;
  }
  constexpr std::string_view kStep = "a step such as { soak-heater.state: running } or { cut: field }";
  if (!read_mapping(without(step, {"within"}), kStep, anchor, draft)) return std::nullopt;
  return anchor;
}

void check_waiting(ScenarioDraft& draft) {
  std::vector<std::string> known;
  for (const auto& [name, line] : draft.expectation_names) known.push_back(name);
  for (const auto& node : draft.met)
    if (!draft.expectation_names.contains(node.text))
      complain(draft.problems, node.place, "met: " + unknown("expectation", node.text, known));
  if (draft.problems.empty() && draft.bench_known) check_circles(draft);
}

}  // namespace emberline::io
