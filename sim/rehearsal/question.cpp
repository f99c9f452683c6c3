#include "sim/rehearsal/question.hpp"

namespace emberline::rehearsal {

using Kind = Expectation::Kind;

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

}  // namespace emberline::rehearsal
