#include "sim/rehearsal/question.hpp"

namespace emberline::rehearsal {
namespace {

using Kind = Expectation::Kind;

/// Whether a count or a time that only grows can satisfy the condition for good before the interval is over.
bool can_settle(const Condition& condition) {
  switch (condition.comparator) {
    case Condition::Comparator::above:
    case Condition::Comparator::at_least:
    case Condition::Comparator::not_equal:
    case Condition::Comparator::include:
      return true;
    default:
      return false;
  }
}

bool met_at_end_only(const Conduct& conduct) {
  switch (conduct.kind) {
    case ConductKind::first_write:
    case ConductKind::read_before_write:
      return false;
    case ConductKind::write_count:
    case ConductKind::silence:
    case ConductKind::retries:
    case ConductKind::exceptions:
      return !conduct.condition || !can_settle(*conduct.condition);
    default:
      return true;
  }
}

}  // namespace

std::unique_ptr<Question> ask(const Expectation& expectation, const Scene& scene) {
  switch (expectation.kind) {
    case Kind::within:
      return ask_within(expectation, scene);
    case Kind::always:
    case Kind::never:
      return ask_interval(expectation, scene);
    case Kind::count:
      return ask_count(expectation, scene);
    case Kind::sequence:
      return ask_sequence(expectation, scene);
    case Kind::conduct:
      return ask_conduct(expectation, scene);
  }
  return nullptr;
}

std::optional<Duration> length_of(const Expectation& expectation) {
  switch (expectation.kind) {
    case Kind::within:
      return std::nullopt;
    case Kind::always:
    case Kind::never:
      return expectation.holds_for;
    case Kind::count:
    case Kind::sequence:
    case Kind::conduct:
      return expectation.within;
  }
  return std::nullopt;
}

bool needs_time(const Expectation& expectation) {
  return expectation.kind != Kind::within && expectation.kind != Kind::sequence;
}

bool met_at_end_only(const Expectation& expectation) {
  switch (expectation.kind) {
    case Kind::within:
    case Kind::sequence:
      return false;
    case Kind::always:
    case Kind::never:
      return true;
    case Kind::count:
      return expectation.at_most.has_value();
    case Kind::conduct:
      return expectation.conduct && met_at_end_only(*expectation.conduct);
  }
  return true;
}

}  // namespace emberline::rehearsal
