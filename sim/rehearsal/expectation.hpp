#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/rehearsal/anchor.hpp"
#include "sim/rehearsal/conduct.hpp"

namespace emberline::rehearsal {

/// One step of a sequence; one of `conditions`, `happens` and `conduct` says what has to come.
struct SequenceStep {
  std::vector<Condition> conditions;  ///< they hold at some instant at or after that of the step before
  std::optional<Anchor> happens;      ///< an entry of the timeline, or another expectation being met
  std::optional<Conduct> write;       ///< first_write: any such write at or after the step before
  std::optional<Duration> within;     ///< counted from the step before; the first: from the beginning
  std::string text;                   ///< for messages
};

/// Something that has to come true, with the interval in which it counts.
struct Expectation {
  /// `within` (that, eventually): true at some instant; `always`, `never`: at every instant, at none;
  /// `count`: comes to hold so many times; `sequence`: one thing after another; `conduct`: what the master
  /// did.
  enum class Kind : std::uint8_t { within, always, never, count, sequence, conduct };
  std::string name;  ///< as reports show it
  Kind kind = Kind::within;
  std::optional<Anchor> from;   ///< `from` or `after`; default: start of the run
  std::optional<Anchor> until;  ///< the interval ends just before it; default: end of the run
  Duration not_before{};        ///< within: `that` is true at no instant before anchor + not_before
  /// within: true at some instant up to anchor + within; count, sequence, conduct: the interval ends there
  /// (included). Default: the end of the interval.
  std::optional<Duration> within;
  /// within: true at every instant of a stretch so long, which begins by anchor + within; always, never: the
  /// interval ends so long after its beginning (included).
  std::optional<Duration> holds_for;
  bool becomes = false;               ///< within: already being true does not count, it has to turn true
  std::optional<int> at_least;        ///< count
  std::optional<int> at_most;         ///< count
  std::vector<Condition> conditions;  ///< AND
  std::vector<SequenceStep> sequence;
  std::optional<Conduct> conduct;
  Place place;  ///< in the scenario's file, for messages
};

}  // namespace emberline::rehearsal
