#include <algorithm>
#include <iterator>
#include <string_view>
#include <utility>

#include "sim/base/duration_text.hpp"
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

/// Keys of an entry that are no part of what is done.
constexpr std::string_view kOwnKeys[] = {"at", "when", "after", "plus", "nth", "name", "ask"};

bool is_own(const Node& entry) {
  return std::find(std::begin(kOwnKeys), std::end(kOwnKeys), entry.label) != std::end(kOwnKeys);
}

/// What an entry does.
struct Doing {
  bool good = true;  ///< nothing was complained about
  std::optional<faults::Action> action;
};

/// The key of an entry that says what is done: the first that is an action. Nothing where only a human is
/// asked, or after a complaint.
const Node* action_of(const Node& node, bool asks, ScenarioDraft& draft) {
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
    if (!is_own(entry) && entry.label != "for") return &entry;  // complained about as an unknown action
  if (const auto* lasts = node.find("for"); lasts != nullptr && asks) {
    complain(draft.problems, lasts->header, "for: nothing is done here that could be taken back");
  } else if (!asks) {
    complain(draft.problems, node.place,
             "nothing is done here, expected an action such as 'cut: field', or 'ask'");
  }
  return nullptr;
}

/// The entry's keys besides its own and the action itself.
std::vector<faults::WrittenKey> further_keys(const Node& node, const Node& action, ScenarioDraft& draft) {
  std::vector<faults::WrittenKey> keys;
  for (const auto& entry : node.entries) {
    if (is_own(entry) || &entry == &action) continue;
    std::string text;
    if (read_text(&entry, text, draft.problems)) keys.emplace_back(entry.label, text);
  }
  return keys;
}

Doing read_doing(const Node& node, bool asks, ScenarioDraft& draft) {
  const auto before = draft.problems.size();
  const auto* action_node = action_of(node, asks, draft);
  if (action_node == nullptr) return {draft.problems.size() == before, {}};
  const auto keys = further_keys(node, *action_node, draft);
  auto action = read_action(*action_node, draft, &keys);
  const bool good = action.has_value();
  if (const auto* lasts = node.find("for"); lasts != nullptr && asks)
    complain(draft.problems, lasts->header,
             "for: whoever is asked to do something is asked to undo it, too, in an entry of its own");
  return {good, std::move(action)};
}

/// `at`, `when` or `after`, with `plus` and `nth` beside.
void read_time(const Node& node, Fields& fields, rehearsal::TimelineEntry& entry, bool& good,
               ScenarioDraft& draft) {
  auto& problems = draft.problems;
  const auto before = problems.size();
  const auto* at = fields.optional("at");
  const auto* when = fields.optional("when");
  const auto* after = fields.optional("after");
  const auto* plus = fields.optional("plus");
  const auto* nth = fields.optional("nth");
  const Node* first = at != nullptr ? at : when != nullptr ? when : after;
  for (const auto* other : {when, after})
    if (other != nullptr && other != first)
      complain(problems, other->header,
               "'" + first->label + "' and '" + other->label + "' both say when: leave one out");
  if (nth != nullptr && first != after)
    complain(problems, nth->header, "nth: counts what stands under 'after'");
  if (plus != nullptr && first == at)
    complain(problems, plus->header, "plus: counts from what stands under 'when' or 'after'");
  if (first == nullptr) {
    if (node.find("at") == nullptr && node.find("when") == nullptr && node.find("after") == nullptr)
      complain(problems, node.place,
               "when? expected 'at: 20 s', 'when: { soak.measured: { above: 540 degC } }' or 'after: { cut: "
               "field }' beside what is done");
    good = false;
    return;
  }
  std::optional<rehearsal::Anchor> anchor;
  if (first == at) {
    if (const auto instant = read_instant(at, problems)) {
      anchor.emplace();
      anchor->at = instant;
      anchor->text = at->text;
    }
  } else if (first == when) {
    anchor = read_awaited(*when, draft);
  } else {
    anchor = read_anchor(after, nth, draft);
    entry.from_start = true;
  }
  if (anchor && plus != nullptr && first != at) {
    if (first->find("plus") != nullptr)
      complain(problems, plus->header, "plus: stands under '" + first->label + "' already");
    Duration more{};
    if (read_duration(plus, Bound::not_negative, more, problems)) {
      anchor->plus = more;
      anchor->text += " + " + format_duration(more);
    }
  }
  good = good && anchor.has_value() && problems.size() == before;
  if (anchor) entry.when = std::move(*anchor);
}

/// What ends an entry with `for` is an entry of its own, so that expectations can hang on it.
rehearsal::TimelineEntry ended(const rehearsal::TimelineEntry& entry, Duration lasts, std::size_t index) {
  rehearsal::TimelineEntry end;
  if (entry.when.at) {
    end.when.at = *entry.when.at + entry.when.plus + lasts;
    end.when.text = format_duration(end.when.at->time_since_epoch());
  } else {
    end.when.entry = index;
    end.when.plus = lasts;
    end.when.text = entry.action->text() + " + " + format_duration(lasts);
  }
  end.action = entry.action->kind->undo(*entry.action);
  end.takes_back = true;
  end.place = entry.place;
  return end;
}

void read_entry(const Node& node, ScenarioDraft& draft) {
  Fields fields(node, kEntryExample, draft.problems);
  if (!fields.is_mapping()) return;
  rehearsal::TimelineEntry entry;
  entry.place = node.place;
  bool good = true;
  read_time(node, fields, entry, good, draft);
  if (const auto* name = fields.optional("name")) read_text(name, entry.name, draft.problems);
  const auto* ask = fields.optional("ask");
  const bool asks = read_text(ask, entry.ask, draft.problems);
  auto doing = read_doing(node, ask != nullptr, draft);
  if (!good || !doing.good || (!doing.action && !asks)) return;
  const auto lasts = doing.action ? std::exchange(doing.action->lasts, std::nullopt) : std::nullopt;
  entry.action = std::move(doing.action);
  auto& timeline = draft.spec.timeline;
  timeline.push_back(std::move(entry));
  if (lasts) timeline.push_back(ended(timeline.back(), *lasts, timeline.size() - 1));
}

/// Entries may be spoken of before they come.
void read_names(const Node& node, ScenarioDraft& draft) {
  std::map<std::string, int> lines;
  for (std::size_t item = 0; item < node.items.size(); ++item) {
    const auto* name = node.items[item].find("name");
    if (name == nullptr || name->kind != Node::Kind::scalar) continue;
    const auto [first, is_new] = lines.try_emplace(name->text, name->place.line);
    if (is_new) {
      draft.entry_names.emplace(name->text, item);
    } else {
      complain(draft.problems, name->place,
               "name '" + name->text + "' is already used in line " + std::to_string(first->second));
    }
  }
}

/// Numbers of items become places in the timeline.
void settle_entries(ScenarioDraft& draft) {
  for (auto& entry : draft.spec.timeline)
    if (entry.when.entry && !entry.takes_back) entry.when.entry = draft.entry_places[*entry.when.entry];
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

void read_timeline(const Node* node, ScenarioDraft& draft) {
  if (node == nullptr) return;
  if (node->kind != Node::Kind::sequence)
    return complain_kind(*node, "a list of entries such as { at: 20 s, cut: field }", draft.problems);
  read_names(*node, draft);
  std::vector<std::size_t> places;
  for (const auto& item : node->items) {
    places.push_back(draft.spec.timeline.size());
    read_entry(item, draft);
  }
  draft.entry_places = std::move(places);
  settle_entries(draft);
}

}  // namespace emberline::io
