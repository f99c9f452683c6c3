// Lessons from scenarios that have none, and what any of them needs to be walked through.
#include <algorithm>
#include <numeric>
#include <utility>

#include "sim/rehearsal/judge_words.hpp"
#include "sim/rehearsal/lesson.hpp"

namespace emberline::rehearsal {
namespace {

/// As long as any file can say, and far enough off that no lesson comes to it.
constexpr SimTime kNeverEnds{std::chrono::hours{24 * 1000}};
/// The bench is watched no longer than this before the first entry.
constexpr Duration kLongestStart = std::chrono::seconds{30};

std::string words_of_entry(const TimelineEntry& entry) {
  return entry.action ? entry.action->text() : entry.ask;
}

/// "pulls the cable of a line" as a sentence.
std::string sentence(std::string_view words) {
  std::string text(words);
  if (!text.empty() && text.front() >= 'a' && text.front() <= 'z')
    text.front() = static_cast<char>(text.front() - 'a' + 'A');
  return text + ".";
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

LessonStep made_of(const ScenarioSpec& scenario, const std::vector<std::size_t>& order, std::size_t entry) {
  const auto& what = scenario.timeline[entry];
  LessonStep step;
  step.title = sentence(words_of_entry(what));
  step.title.pop_back();
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
  const auto expected = hanging_on(scenario, order, entry);
  for (const auto* expectation : expected)
    step.say += "\n\nWhat is expected then: " + expectation->name + ".";
  for (const auto* expectation : expected) {
    for (const auto& condition : expectation->conditions)
      if (std::find(step.look_at.begin(), step.look_at.end(), condition.name) == step.look_at.end())
        step.look_at.push_back(condition.name);
    if (step.until || expectation->kind != Expectation::Kind::within) continue;
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
                                       kWatchedAnyway, kLongestStart);
  steps.push_back(std::move(first));
  for (const auto entry : order) steps.push_back(made_of(scenario, order, entry));
  LessonStep last;
  last.title = "The verdict";
  last.say = "That was the story. What is expected of it is judged now, as it stands.";
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
  if (scenario.lesson.empty()) scenario.lesson = made_steps(scenario);
  tie_ends(scenario);
  scenario.ends = kNeverEnds;
  return scenario;
}

}  // namespace emberline::rehearsal
