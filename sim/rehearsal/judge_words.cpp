#include "sim/rehearsal/judge_words.hpp"

#include "sim/base/duration_text.hpp"

namespace emberline::rehearsal {

std::string words_of(SimTime at) { return format_duration(at.time_since_epoch()); }
std::string words_of(Duration duration) { return format_duration(duration); }

std::string words_of(const std::vector<Condition>& conditions) {
  std::string text;
  for (const auto& condition : conditions) text += (text.empty() ? "" : " and ") + describe(condition);
  return text;
}

std::string values_of(const std::vector<Condition>& conditions, const bench::Bench& bench, SimTime now) {
  std::string text;
  for (const auto& condition : conditions) {
    text += (text.empty() ? "" : ", ") + condition.name + " was " +
            bench::describe_value(condition.info, bench.value(condition.signal, now));
  }
  return text;
}

std::string without_value(const Condition& condition, SimTime now) {
  return condition.name + " had no value at " + words_of(now) + " in the interval";
}

std::string since(const Expectation& expectation, SimTime from) {
  if (!expectation.from) return "from the start";
  if (expectation.from->at) return "from " + expectation.from->text;
  return "after " + expectation.from->text + " (" + words_of(from) + ")";
}

std::string times(int count) {
  return count == 0 ? "never" : count == 1 ? "once" : std::to_string(count) + " times";
}

}  // namespace emberline::rehearsal
