#include <algorithm>
#include <string_view>
#include <utility>

#include "sim/io/files/fields.hpp"
#include "sim/io/files/scenario_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kEntryExample = "{ at: 20 s, cut: field }";

std::vector<std::string> action_words() {
  std::vector<std::string> words;
  for (const auto* kind : faults::all_actions()) words.emplace_back(kind->word);
  return words;
}

/// The key of an entry that says what is done: the first that is an action.
const Node* action_of(const Node& node, ScenarioDraft& draft) {
  const Node* action = nullptr;
  for (const auto& entry : node.entries) {
    if (faults::find_action(entry.label) == nullptr) continue;
    if (action != nullptr) {
      complain(draft.problems, entry.header,
               "an entry does one thing, found '" + action->label + "' and '" + entry.label + "'");
      return nullptr;
    }
    action = &entry;
  }
  if (action != nullptr) return action;
  for (const auto& entry : node.entries)
    if (entry.label != "at" && entry.label != "for") return &entry;  // complained about as an unknown action
  complain(draft.problems, node.place, "nothing is done here, expected an action such as 'cut: field'");
  return nullptr;
}

/// The entry's keys besides `at` and the action itself.
std::vector<faults::WrittenKey> further_keys(const Node& node, const Node& action, ScenarioDraft& draft) {
  std::vector<faults::WrittenKey> keys;
  for (const auto& entry : node.entries) {
    if (entry.label == "at" || &entry == &action) continue;
    std::string text;
    if (read_text(&entry, text, draft.problems)) keys.emplace_back(entry.label, text);
  }
  return keys;
}

void read_entry(const Node& node, ScenarioDraft& draft) {
  Fields fields(node, kEntryExample, draft.problems);
  if (!fields.is_mapping()) return;
  const auto at = read_instant(fields.optional("at"), draft.problems);
  if (node.find("at") == nullptr)
    complain(draft.problems, node.place, "when? expected 'at: 20 s' beside what is done");
  const auto* action_node = action_of(node, draft);
  if (action_node == nullptr) return;
  const auto keys = further_keys(node, *action_node, draft);
  auto action = read_action(*action_node, draft, &keys);
  if (!at || !action) return;
  // What ends it is an entry of its own, so that expectations can hang on it.
  const auto lasts = std::exchange(action->lasts, std::nullopt);
  const auto add = [&](SimTime when, faults::Action what) {
    rehearsal::TimelineEntry entry;
    entry.when.at = when;
    entry.action = std::move(what);
    entry.place = node.place;
    draft.spec.timeline.push_back(std::move(entry));
  };
  if (lasts) add(*at + *lasts, action->kind->undo(*action));
  add(*at, std::move(*action));
}

}  // namespace

std::optional<SimTime> read_instant(const Node* node, Problems& problems) {
  Duration since_start{};
  if (!read_duration(node, Bound::not_negative, since_start, problems)) return std::nullopt;
  return SimTime{since_start};
}

std::optional<faults::Action> read_action(const Node& entry, ScenarioDraft& draft,
                                          const std::vector<faults::WrittenKey>* keys) {
  if (faults::find_action(entry.label) == nullptr) {
    complain(draft.problems, entry.header, unknown("action", entry.label, action_words()));
    return std::nullopt;
  }
  std::string target;
  if (!read_text(&entry, target, draft.problems) || !draft.bench_known) return std::nullopt;
  auto action = keys != nullptr ? faults::resolve_action(draft.spec.bench, entry.label, target, *keys)
                                : faults::name_action(draft.spec.bench, entry.label, target);
  if (action) return std::move(action).value();
  complain(draft.problems, entry.place, action.error());
  return std::nullopt;
}

std::optional<rehearsal::Anchor> read_anchor(const Node* node, int nth, ScenarioDraft& draft) {
  if (node == nullptr) return std::nullopt;
  rehearsal::Anchor anchor;
  anchor.nth = nth;
  anchor.text = node->text;
  if (node->kind == Node::Kind::scalar) {
    anchor.at = read_instant(node, draft.problems);
    return anchor.at ? std::optional(anchor) : std::nullopt;
  }
  if (node->kind != Node::Kind::mapping || node->entries.size() != 1) {
    complain_kind(*node, "a time such as '10 s', or one entry of the timeline such as { cut: field }",
                  draft.problems);
    return std::nullopt;
  }
  const auto action = read_action(node->entries.front(), draft, nullptr);
  if (!action) return std::nullopt;
  anchor.action_word = std::string(action->kind->word);
  anchor.action_target = action->target;
  anchor.text = action->text();
  return anchor;
}

void read_timeline(const Node* node, ScenarioDraft& draft) {
  if (node == nullptr) return;
  if (node->kind != Node::Kind::sequence)
    return complain_kind(*node, "a list of entries such as { at: 20 s, cut: field }", draft.problems);
  for (const auto& item : node->items) read_entry(item, draft);
  auto& timeline = draft.spec.timeline;
  std::stable_sort(timeline.begin(), timeline.end(),
                   [](const auto& a, const auto& b) { return *a.when.at < *b.when.at; });
}

}  // namespace emberline::io
