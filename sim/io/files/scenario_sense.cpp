// What a scenario asks for that can never happen, or never be judged, as can be seen before it runs.
#include <algorithm>
#include <string>
#include <string_view>
#include <utility>

#include "sim/io/files/scenario_known_times.hpp"
#include "sim/io/files/scenario_parts.hpp"
#include "sim/io/files/scenario_sense_parts.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"
#include "sim/rehearsal/judge_words.hpp"
#include "sim/rehearsal/question.hpp"

namespace emberline::io {
namespace {

using rehearsal::Anchor;
using rehearsal::Condition;
using rehearsal::Expectation;
using rehearsal::TimelineEntry;
using Kind = Expectation::Kind;
using Comparator = Condition::Comparator;

using rehearsal::words_of;

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

}  // namespace

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
        say(at->place, "at: " + in_quotes(at->text) + " is after the end of the run");
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

bool Sense::is_met_by_end_of_run(const Anchor& anchor) const {
  return std::any_of(spec_.expectations.begin(), spec_.expectations.end(), [&](const Expectation& other) {
    return other.name == anchor.expectation && !other.until && !rehearsal::length_of(other) &&
           rehearsal::met_at_end_only(other);
  });
}

/// True if the anchor can come; else somebody has been told, here or at the entry it hangs on, or will be at
/// the end.
bool Sense::check_anchor(const Node& node, const Anchor& anchor) {
  const std::string label = label_of(node);
  if (!anchor.action_word.empty()) {
    const auto count = times_.entries_of(anchor).size();
    const std::string what = done_by(node);
    if (count == 0) {
      say(node.place, label + "the timeline never does " + in_quotes(what) + what_there_is(what, anchor));
      return false;
    }
    if (count < static_cast<std::size_t>(anchor.nth)) {
      say(node.place, label + "the timeline does " + in_quotes(what) + " " +
                          (count == 1 ? "once" : std::to_string(count) + " times") +
                          ", and nth asks for number " + std::to_string(anchor.nth));
      return false;
    }
  }
  if (is_met_by_end_of_run(anchor)) {
    say(node.place,
        label + in_quotes(anchor.text) + " is met with the end of the run, and nothing comes after that");
    return false;
  }
  const auto when = times_.of(anchor);
  if (!when) {
    if (!never_)
      never_ = {node.place, label + in_quotes(anchor.text) +
                                " can never come: what would bring it about waits for itself"};
    return false;
  }
  if (when->earliest <= spec_.ends) return true;
  Anchor itself = anchor;
  itself.plus = Duration{};
  const auto entry = times_.of(itself);
  const bool told_there = entry && entry->earliest > spec_.ends && !anchor.at;
  if (!told_there)
    say(node.place, label + in_quotes(anchor.text) + " is at " + words_of(when->earliest) + after_the_end());
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
  return meant.empty() ? "; it does: " + listed(all) : ", did you mean " + in_quotes(meant) + "?";
}

namespace {

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

}  // namespace

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

void Sense::check_lesson() {
  const auto* lesson = root_.find("lesson");
  if (lesson == nullptr) return;
  for (std::size_t i = 0; i < spec_.lesson.size() && i < lesson->items.size(); ++i)
    if (const auto& until = spec_.lesson[i].until)
      check_limits(lesson->items[i].find("until"), until->conditions);
}

void Sense::check_expectation(const Node& node, const Expectation& expectation) {
  const auto* from = node.find("after");
  if (from == nullptr) from = node.find("from");
  const auto* until = node.find("until");
  const auto before = draft_.problems.size();
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
  if (comes && begins && check_single(from, expectation, *begins)) {
    if (until != nullptr && expectation.until) check_until(*until, expectation, *begins);
    check_lengths(node, expectation, *begins);
    check_window(node, expectation, *begins);
  }
  // What never holds is right under `never`, and under `comes` if it may stay away.
  for (const auto word : {"that", "eventually", "always"})
    check_limits(node.find(word), expectation.conditions);
  if (expectation.at_least.value_or(0) > 0) check_limits(node.find("comes"), expectation.conditions);
  check_steps(node.find("sequence"), expectation,
              comes && draft_.problems.size() == before ? begins : std::nullopt);
  check_masters(node, expectation, draft_);
}

/// How often there is what a step waits for, if this step and those before it need that more often.
std::optional<int> Sense::happens_too_seldom(const Expectation& expectation, std::size_t step) const {
  const auto& waits = *expectation.sequence[step].happens;
  const auto entries = times_.entries_of(waits);
  std::size_t needed = 0;
  for (std::size_t i = 0; i <= step; ++i) {
    const auto& other = expectation.sequence[i].happens;
    if (!other) continue;
    if (!waits.expectation.empty()) {
      if (other->expectation == waits.expectation) ++needed;
      continue;
    }
    const auto others = times_.entries_of(*other);  // in the order of the file
    if (!others.empty() && std::includes(entries.begin(), entries.end(), others.begin(), others.end()))
      ++needed;
  }
  const std::size_t there = waits.expectation.empty() ? entries.size() : 1;
  return needed > there ? std::optional(static_cast<int>(there)) : std::nullopt;
}

void Sense::check_steps(const Node* node, const Expectation& expectation,
                        const std::optional<KnownTimes::When>& from) {
  if (node == nullptr) return;
  for (std::size_t i = 0; i < expectation.sequence.size() && i < node->items.size(); ++i) {
    const auto& step = expectation.sequence[i];
    check_limits(&node->items[i], step.conditions);
    if (!step.happens || !check_anchor(node->items[i], *step.happens)) continue;
    if (const auto there = happens_too_seldom(expectation, i)) {
      say(node->items[i].place, label_of(*node) + in_quotes(step.text) + " comes " +
                                    rehearsal::times(*there) + ", and each time is good for one step");
      continue;
    }
    if (!from) continue;
    const SimTime last = last_of(expectation, times_, *from, spec_.ends);
    const auto all = times_.all_of(*step.happens);
    const auto fits = [&](const KnownTimes::When& when) {
      return when.earliest <= last && (!when.exact || when.earliest >= from->earliest);
    };
    if (std::any_of(all.begin(), all.end(), fits)) continue;
    const auto& when = all.front();
    const bool early = when.exact && when.earliest < from->earliest;
    say(node->items[i].place, label_of(*node) + in_quotes(step.text) +
                                  (when.exact ? " is at " : " is not before ") + words_of(when.earliest) +
                                  (early ? ", before the beginning" : ", after the end of the interval"));
  }
}

void check_sense(const Node& root, ScenarioDraft& draft) {
  const auto* expect = root.find("expect");
  if (!draft.problems.empty() || !draft.bench_known || !draft.ends_known || expect == nullptr) return;
  Sense(root, draft).check();
}

}  // namespace emberline::io
