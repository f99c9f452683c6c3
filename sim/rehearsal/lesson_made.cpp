// Lessons from scenarios that have none, and what any of them needs to be walked through.
#include <algorithm>
#include <iterator>
#include <numeric>
#include <utility>

#include "sim/rehearsal/judge_words.hpp"
#include "sim/rehearsal/lesson.hpp"

namespace emberline::rehearsal {
namespace {

/// As long as any file can say, and far enough off that no lesson comes to it.
constexpr SimTime kNeverEnds{std::chrono::hours{24 * 1000}};
/// A class waits no longer than this between two entries.
constexpr Duration kLongestWatch = std::chrono::seconds{30};

std::string words_of_entry(const TimelineEntry& entry) {
  return entry.action ? entry.action->text() : entry.ask;
}

/// "phase_lost supply.l2 for 3 s" as a heading: "Phase lost: supply.l2 for 3 s".
std::string heading(const TimelineEntry& entry) {
  if (!entry.action) return entry.ask;
  std::string text = entry.action->text();
  const auto end = std::min(text.find(' '), text.size());
  std::replace(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(end), '_', ' ');
  text.insert(end, ":");
  if (text.front() >= 'a' && text.front() <= 'z') text.front() = static_cast<char>(text.front() - 'a' + 'A');
  return text;
}

/// Entries of the file, as far as it can be told in the order in which they happen: one without a time of its
/// own comes behind the one before it in the file.
std::vector<std::size_t> in_order(const std::vector<TimelineEntry>& timeline) {
  std::vector<std::size_t> order;
  std::vector<SimTime> times(timeline.size());
  SimTime last{};
  for (std::size_t i = 0; i < timeline.size(); ++i) {
    if (timeline[i].takes_back) continue;
    if (timeline[i].when.at) last = *timeline[i].when.at;
    times[i] = last;
    order.push_back(i);
  }
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t one, std::size_t other) { return times[one] < times[other]; });
  return order;
}

/// Which occurrence of its action an entry is, in this order.
int occurrence(const std::vector<TimelineEntry>& timeline, const std::vector<std::size_t>& order,
               std::size_t entry) {
  int count = 0;
  for (const auto other : order) {
    const auto& action = timeline[other].action;
    if (action && action->kind == timeline[entry].action->kind &&
        action->target == timeline[entry].action->target)
      ++count;
    if (other == entry) break;
  }
  return count;
}

/// Expectations that begin with this entry.
std::vector<const Expectation*> hanging_on(const ScenarioSpec& scenario,
                                           const std::vector<std::size_t>& order, std::size_t entry) {
  std::vector<const Expectation*> found;
  const auto& action = scenario.timeline[entry].action;
  for (const auto& expectation : scenario.expectations) {
    if (!expectation.from) continue;
    const auto& from = *expectation.from;
    const bool by_name = from.entry == entry;
    const bool by_action = action && !from.action_word.empty() && from.action_word == action->kind->word &&
                           from.action_target == action->target &&
                           from.nth == occurrence(scenario.timeline, order, entry);
    if (by_name || by_action) found.push_back(&expectation);
  }
  return found;
}

/// How long an entry is watched: as long as it lasts, and as long as the file lets pass before the next one,
/// if a class can wait for that.
std::optional<Duration> watched(const ScenarioSpec& scenario, const std::vector<std::size_t>& order,
                                std::size_t entry) {
  const auto& what = scenario.timeline[entry];
  std::optional<Duration> length;
  const auto after = std::next(std::find(order.begin(), order.end(), entry));
  const auto next = after == order.end() ? std::optional(scenario.ends) : scenario.timeline[*after].when.at;
  if (what.when.at && next && *next > *what.when.at)
    length = std::clamp<Duration>(*next - *what.when.at, kWatchedAnyway, kLongestWatch);
  if (what.action && what.action->lasts)
    length =
        std::max(length.value_or(kWatchedAnyway), *what.action->lasts + Duration{std::chrono::seconds{1}});
  return length;
}

LessonStep made_of(const ScenarioSpec& scenario, const std::vector<std::size_t>& order, std::size_t entry) {
  const auto& what = scenario.timeline[entry];
  LessonStep step;
  step.title = heading(what);
  step.place = what.place;
  step.does = {entry};
  step.button = step.title;
  if (!what.ask.empty() && what.action) step.say = what.ask + ".\n\n";
  if (what.action) step.say += "What this does: " + std::string(what.action->kind->meaning) + ".";
  if (what.when.at) {
    step.say +=
        (step.say.empty() ? "" : "\n\n") + ("In the story it comes at " + words_of(*what.when.at) + ".");
  } else {
    step.say += (step.say.empty() ? "" : "\n\n") + ("In the story it comes with: " + what.when.text + ".");
  }
  step.watch = watched(scenario, order, entry);
  const auto expected = hanging_on(scenario, order, entry);
  for (const auto* expectation : expected)
    step.say += "\n\nWhat is expected then: " + expectation->name + ".";
  for (const auto* expectation : expected) {
    for (const auto& condition : expectation->conditions)
      if (std::find(step.look_at.begin(), step.look_at.end(), condition.name) == step.look_at.end())
        step.look_at.push_back(condition.name);
    if (step.until || step.watch || expectation->kind != Expectation::Kind::within) continue;
    step.until.emplace();
    step.until->conditions = expectation->conditions;
    step.until->text = words_of(expectation->conditions);
    if (expectation->within) step.within = std::max<Duration>(*expectation->within, std::chrono::seconds{1});
  }
  return step;
}

std::vector<LessonStep> made_steps(const ScenarioSpec& scenario) {
  const auto order = in_order(scenario.timeline);
  std::vector<LessonStep> steps;
  LessonStep first;
  first.title = scenario.title;
  first.say = scenario.why.empty() ? "The bench: " + scenario.bench.title + "." : scenario.why;
  first.button = "Watch the bench come up";
  first.watch = kWatchedAnyway;
  if (!order.empty() && scenario.timeline[order.front()].when.at)
    first.watch = std::clamp<Duration>(scenario.timeline[order.front()].when.at->time_since_epoch(),
                                       kWatchedAnyway, kLongestWatch);
  steps.push_back(std::move(first));
  for (const auto entry : order) steps.push_back(made_of(scenario, order, entry));
  LessonStep last;
  last.title = "How it went";
  last.say =
      "That was the story, at your pace. What its file expects is looked at now. For a verdict, rehearse it.";
  steps.push_back(std::move(last));
  return steps;
}

/// What takes an entry back counts from when it happens, which is no longer its time in the file.
void tie_ends(ScenarioSpec& scenario) {
  std::vector<bool> held(scenario.timeline.size(), false);
  for (const auto& step : scenario.lesson)
    for (const auto entry : step.does) held[entry] = true;
  for (std::size_t i = 1; i < scenario.timeline.size(); ++i) {
    auto& end = scenario.timeline[i];
    const auto& begin = scenario.timeline[i - 1];
    if (!end.takes_back || !held[i - 1] || !end.when.at || !begin.when.at) continue;
    end.when.plus = *end.when.at - (*begin.when.at + begin.when.plus);
    end.when.at.reset();
    end.when.entry = i - 1;
    end.when.text = words_of_entry(begin) + " + " + words_of(end.when.plus);
  }
}

}  // namespace

ScenarioSpec as_lesson(ScenarioSpec scenario) {
  scenario.lesson_is_made = scenario.lesson.empty();
  if (scenario.lesson_is_made) scenario.lesson = made_steps(scenario);
  tie_ends(scenario);
  scenario.ends = kNeverEnds;
  return scenario;
}

}  // namespace emberline::rehearsal
