// What a scenario asks for that can never happen, or never be judged, as can be seen before it runs.
#include <algorithm>
#include <string>
#include <string_view>
#include <utility>

#include "sim/base/duration_text.hpp"
#include "sim/io/files/scenario_known_times.hpp"
#include "sim/io/files/scenario_parts.hpp"
#include "sim/io/files/scenario_sense_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

using rehearsal::Anchor;
using rehearsal::Condition;
using rehearsal::Expectation;
using rehearsal::TimelineEntry;
using Kind = Expectation::Kind;
using Comparator = Condition::Comparator;

std::string words_of(SimTime at) { return format_duration(at.time_since_epoch()); }

std::string quoted(const std::string& text) { return "'" + text + "'"; }

/// "cut field"
std::string done_by(const TimelineEntry& entry) {
  return std::string(entry.action->kind->word) + " " + entry.action->target_name;
}
/// The same, as an anchor has it, without what stands beside.
std::string done_by(const Node& anchor) {
  for (const auto& entry : anchor.entries)
    if (faults::find_action(entry.label) != nullptr) return entry.label + " " + entry.text;
  return {};
}

class Sense {
 public:
  Sense(const Node& root, ScenarioDraft& draft)
      : root_(root), draft_(draft), spec_(draft.spec), times_(draft.spec) {}

  void check() {
    check_timeline();
    const auto* expect = root_.find("expect");
    for (std::size_t i = 0; i < spec_.expectations.size() && i < expect->items.size(); ++i)
      check_expectation(expect->items[i], spec_.expectations[i]);
  }

 private:
  void say(const Place& place, std::string message) { complain(draft_.problems, place, std::move(message)); }
  [[nodiscard]] std::string after_the_end() const {
    return ", after the end of the run (" + words_of(spec_.ends) + ")";
  }

  void check_timeline();
  [[nodiscard]] const Node* node_of(const TimelineEntry& entry) const;
  bool check_anchor(const Node& node, const Anchor& anchor);
  [[nodiscard]] std::string what_there_is(const std::string& what, const Anchor& anchor) const;
  void check_limits(const Node* node, const std::vector<Condition>& conditions);

  void check_expectation(const Node& node, const Expectation& expectation);
  void check_until(const Node& node, const Expectation& expectation, const KnownTimes::When& from);
  void check_lengths(const Node& node, const Expectation& expectation, const KnownTimes::When& from);
  void check_length(const Node* node, const Expectation& expectation, const KnownTimes::When& from,
                    Duration length);
  void check_steps(const Node* node, const Expectation& expectation);

  const Node& root_;
  ScenarioDraft& draft_;
  const rehearsal::ScenarioSpec& spec_;
  KnownTimes times_;
};

const Node* Sense::node_of(const TimelineEntry& entry) const {
  const auto* timeline = root_.find("timeline");
  if (timeline == nullptr) return nullptr;
  const auto found = std::find_if(timeline->items.begin(), timeline->items.end(), [&](const Node& item) {
    return item.place.line == entry.place.line && item.place.column == entry.place.column;
  });
  return found == timeline->items.end() ? nullptr : &*found;
}

void Sense::check_timeline() {
  for (std::size_t i = 0; i < spec_.timeline.size(); ++i) {
    const auto& entry = spec_.timeline[i];
    const auto* node = node_of(entry);
    // What takes another entry back may come too late: that lasts to the end, then.
    if (entry.takes_back || node == nullptr) continue;
    if (const auto* at = node->find("at"); at != nullptr && entry.when.at) {
      if (*entry.when.at > spec_.ends)
        say(at->place, "at: " + quoted(at->text) + " is after the end of the run");
      continue;
    }
    const auto* after = node->find("after");
    if (after == nullptr) after = node->find("when");
    check_limits(after, entry.when.conditions);
    if (after != nullptr && !check_anchor(*after, entry.when)) continue;
    const auto when = times_.of_entry(i);
    if (when && when->earliest > spec_.ends)
      say(entry.place, "this would come at " + words_of(when->earliest) + after_the_end());
  }
}

/// True if the anchor can come; else somebody has been told, here or at the entry it hangs on.
bool Sense::check_anchor(const Node& node, const Anchor& anchor) {
  const std::string label = label_of(node);
  if (!anchor.action_word.empty()) {
    const auto count = times_.entries_of(anchor).size();
    const std::string what = done_by(node);
    if (count == 0) {
      say(node.place, label + "the timeline never does " + quoted(what) + what_there_is(what, anchor));
      return false;
    }
    if (count < static_cast<std::size_t>(anchor.nth)) {
      say(node.place, label + "the timeline does " + quoted(what) + " " +
                          (count == 1 ? "once" : std::to_string(count) + " times") +
                          ", and nth asks for number " + std::to_string(anchor.nth));
      return false;
    }
  }
  const auto when = times_.of(anchor);
  if (!when) return false;
  if (when->earliest <= spec_.ends) return true;
  Anchor itself = anchor;
  itself.plus = Duration{};
  const auto entry = times_.of(itself);
  const bool told_there = entry && entry->earliest > spec_.ends && !anchor.at;
  if (!told_there)
    say(node.place, label + quoted(anchor.text) + " is at " + words_of(when->earliest) + after_the_end());
  return false;
}

/// The entry that was meant: one that does the same to something else, one spelled alike, one done to the
/// same; or all there are.
std::string Sense::what_there_is(const std::string& what, const Anchor& anchor) const {
  std::vector<std::string> all;
  std::string same_word;
  std::string same_target;
  for (const auto& entry : spec_.timeline) {
    if (!entry.action) continue;
    const std::string text = done_by(entry);
    if (std::find(all.begin(), all.end(), text) == all.end()) all.push_back(text);
    if (same_word.empty() && entry.action->kind->word == anchor.action_word) same_word = text;
    if (same_target.empty() && entry.action->target == anchor.action_target) same_target = text;
  }
  if (all.empty()) return "; it has no entries";
  std::string meant = same_word;
  if (meant.empty()) meant = std::string(nearest_word(what, all));
  if (meant.empty()) meant = same_target;
  return meant.empty() ? "; it does: " + listed(all) : ", did you mean " + quoted(meant) + "?";
}

/// Whether a value between these limits can satisfy the condition.
bool can_hold(const Condition& condition, std::pair<double, double> limits) {
  const auto [lowest, highest] = limits;
  switch (condition.comparator) {
    case Comparator::above:
      return condition.a < highest;
    case Comparator::at_least:
      return condition.a <= highest;
    case Comparator::below:
      return condition.a > lowest;
    case Comparator::at_most:
      return condition.a >= lowest;
    case Comparator::equals:
      return condition.a >= lowest && condition.a <= highest;
    case Comparator::between:
      return condition.b >= lowest && condition.a <= highest;
    case Comparator::near:
      return condition.a + condition.b >= lowest && condition.a - condition.b <= highest;
    default:
      return true;
  }
}

void Sense::check_limits(const Node* node, const std::vector<Condition>& conditions) {
  if (node == nullptr) return;
  for (const auto& condition : conditions) {
    if (condition.signal.kind != bench::SignalId::Kind::unit_point || !condition.info.values.empty())
      continue;
    const auto& limits = registers::point_info(static_cast<registers::Point>(condition.signal.sub)).limits;
    if (!limits || can_hold(condition, *limits)) continue;
    const auto* entry = node->find(condition.name);
    say(entry != nullptr ? entry->place : node->place,
        rehearsal::describe(condition) + " can never hold: it goes from " +
            bench::describe_value(condition.info, limits->first) + " to " +
            bench::describe_value(condition.info, limits->second));
  }
}

void Sense::check_expectation(const Node& node, const Expectation& expectation) {
  const auto* from = node.find("after");
  if (from == nullptr) from = node.find("from");
  const auto* until = node.find("until");
  bool comes = true;
  if (from != nullptr && expectation.from) {
    check_limits(from, expectation.from->conditions);
    comes = check_anchor(*from, *expectation.from);
  }
  if (until != nullptr && expectation.until) {
    check_limits(until, expectation.until->conditions);
    comes = check_anchor(*until, *expectation.until) && comes;
  }
  const auto begins =
      expectation.from ? times_.of(*expectation.from) : std::optional(KnownTimes::When{SimTime{}, true});
  if (comes && begins) {
    if (until != nullptr && expectation.until) check_until(*until, expectation, *begins);
    check_lengths(node, expectation, *begins);
  }
  // What never holds is right under `never`.
  for (const auto word : {"that", "eventually", "always", "comes"})
    check_limits(node.find(word), expectation.conditions);
  check_steps(node.find("sequence"), expectation);
  check_masters(node, expectation, draft_);
}

void Sense::check_until(const Node& node, const Expectation& expectation, const KnownTimes::When& from) {
  const auto& until = *expectation.until;
  const auto ends = times_.of(until);
  const bool too_early = ends && ends->exact && ends->earliest <= from.earliest;
  const auto* begins = expectation.from ? &*expectation.from : nullptr;
  const bool of_entry = until.entry || !until.action_word.empty() || !until.expectation.empty();
  const bool same = begins != nullptr && of_entry && until.entry == begins->entry &&
                    until.action_word == begins->action_word && until.expectation == begins->expectation &&
                    until.action_target == begins->action_target && until.nth == begins->nth &&
                    until.plus <= begins->plus;
  if (!too_early && !same) return;
  const auto known = [](const KnownTimes::When& when, const Anchor& anchor) {
    return when.exact && !anchor.at ? " (" + words_of(when.earliest) + ")" : std::string();
  };
  say(node.place,
      label_of(node) + quoted(until.text) + (ends ? known(*ends, until) : "") +
          " does not come after the beginning, " +
          (begins == nullptr ? "the start of the run" : quoted(begins->text) + known(from, *begins)));
}

void Sense::check_length(const Node* node, const Expectation& expectation, const KnownTimes::When& from,
                         Duration length) {
  if (node == nullptr || from.earliest + length <= spec_.ends) return;
  const std::string since = expectation.from ? quoted(expectation.from->text) : "the start of the run";
  say(node->place, label_of(*node) + quoted(node->text) + " after " + since + " is " +
                       (from.exact ? "at " : "not before ") + words_of(from.earliest + length) +
                       after_the_end());
}

void Sense::check_lengths(const Node& node, const Expectation& expectation, const KnownTimes::When& from) {
  const auto* within = node.find("within");
  if (within != nullptr && expectation.within) {
    check_length(within, expectation, from, *expectation.within);
    if (from.earliest + *expectation.within > spec_.ends) return;  // one line is enough
  }
  check_length(node.find("not_before"), expectation, from, expectation.not_before);
  if (from.earliest + expectation.not_before > spec_.ends || !expectation.holds_for) return;
  check_length(node.find("for"), expectation, from, expectation.not_before + *expectation.holds_for);
}

void Sense::check_steps(const Node* node, const Expectation& expectation) {
  if (node == nullptr) return;
  for (std::size_t i = 0; i < expectation.sequence.size() && i < node->items.size(); ++i) {
    const auto& step = expectation.sequence[i];
    check_limits(&node->items[i], step.conditions);
    if (step.happens) check_anchor(node->items[i], *step.happens);
  }
}

}  // namespace

void check_sense(const Node& root, ScenarioDraft& draft) {
  const auto* expect = root.find("expect");
  if (!draft.problems.empty() || !draft.bench_known || !draft.ends_known || expect == nullptr) return;
  Sense(root, draft).check();
}

}  // namespace emberline::io
