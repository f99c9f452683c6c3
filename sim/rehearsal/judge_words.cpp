#include "sim/rehearsal/judge_words.hpp"

#include <cmath>

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

std::optional<std::string> without_value(const std::vector<Condition>& conditions, const bench::Bench& bench,
                                         SimTime now) {
  std::optional<std::string> name;
  for (const auto& condition : conditions) {
    const double value = bench.value(condition.signal, now);
    if (!std::isnan(value)) {
      if (!holds(condition, value)) return std::nullopt;
    } else if (!name) {
      name = condition.name;
    }
  }
  return name;
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
