#include "sim/rehearsal/conduct_words.hpp"

#include <string>

#include "sim/base/duration_text.hpp"
#include "sim/bench/signal.hpp"
#include "sim/registers/point.hpp"
#include "sim/rehearsal/judge_words.hpp"

namespace emberline::rehearsal {

using Comparator = Condition::Comparator;

std::optional<bool> settled(const Condition& condition, double value) {
  const bool now = holds(condition, value);
  switch (condition.comparator) {
    case Comparator::above:
    case Comparator::at_least:
      return now ? std::optional(true) : std::nullopt;
    case Comparator::not_equal:
      return now && value > condition.a ? std::optional(true) : std::nullopt;
    case Comparator::below:
    case Comparator::at_most:
      return now ? std::nullopt : std::optional(false);
    case Comparator::equals:
    case Comparator::between:
    case Comparator::near:
      return !now && value > condition.a ? std::optional(false) : std::nullopt;
    default:
      return std::nullopt;
  }
}

std::optional<Outcome::Result> settled_as(const Condition& condition, double value) {
  const auto good = settled(condition, value);
  if (!good) return std::nullopt;
  return *good ? Outcome::Result::passed : Outcome::Result::failed;
}

std::string counted(const Condition& condition, std::string_view one, std::string_view many) {
  if (condition.comparator == Comparator::not_equal) {
    Condition which = condition;
    which.comparator = Comparator::equals;
    return "any number of " + std::string(many) + " but " + describe_expected(which);
  }
  const double last = condition.comparator == Comparator::between ? condition.b : condition.a;
  return describe_expected(condition) + " " + std::string(last == 1.0 ? one : many);
}

std::string there_were(std::uint64_t count) {
  if (count == 0) return "there was none";
  return (count == 1 ? "there was " : "there were ") + std::to_string(count);
}

std::string the_nth(std::uint64_t number) {
  const auto tens = number % 100;
  const bool teens = tens >= 11 && tens <= 13;
  const auto digit = teens ? 0 : number % 10;
  const char* ending = digit == 1 ? "st" : digit == 2 ? "nd" : digit == 3 ? "rd" : "th";
  return "the " + std::to_string(number) + ending;
}

std::string nobody_did(const Conduct& conduct, bool named, std::string_view did) {
  return (named ? conduct.by + " never " : "nobody ") + std::string(did) + " " + conduct.name;
}

std::string per_words(Duration window) {
  if (window == std::chrono::seconds{1}) return "s";
  if (window == std::chrono::minutes{1}) return "min";
  if (window == std::chrono::hours{1}) return "h";
  return format_duration(window);
}

WriteNote note_of(const unit::WriteSeen& write) {
  const auto& point = registers::point_info(write.point);
  const bench::SignalInfo info{point.dimension, point.values, point.flags};
  return {write.at, write.asked,
          bench::describe_value(info, write.asked) + (write.accepted ? "" : " (refused)") + " by " +
              std::string(write.master) + " at " + words_of(write.at)};
}

bool is_of_point(const Conduct& conduct, const bench::BenchSpec& bench, const unit::WriteSeen& write) {
  return write.point == conduct.point && bench.units[conduct.index].unit.name == write.unit;
}

}  // namespace emberline::rehearsal
