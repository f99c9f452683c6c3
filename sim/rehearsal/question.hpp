#pragma once

#include <memory>
#include <optional>
#include <string>

#include "sim/bench/bench.hpp"
#include "sim/bench/line_observer.hpp"
#include "sim/rehearsal/conduct_judge.hpp"
#include "sim/rehearsal/expectation.hpp"
#include "sim/rehearsal/moments.hpp"

namespace emberline::rehearsal {

/// What expectations are held against.
struct Scene {
  const bench::Bench& bench;
  const Moments& moments;
  bool any_master = false;  ///< whatever is said of who writes (a real master has come)
};

/// One expectation inside its interval, which the judge keeps: nothing is told or asked before begin() but
/// before(), and nothing after the end.
class Question {
 public:
  virtual ~Question() = default;
  /// Whether it has to know how things stood before the interval.
  [[nodiscard]] virtual bool looks_before() const { return false; }
  /// An instant before the interval.
  virtual void before(SimTime /*now*/) {}
  /// The interval begins.
  virtual void begin(SimTime from) = 0;
  /// Whether it is to be told of writes and requests inside the interval; they come ahead of the look at
  /// their instant.
  [[nodiscard]] virtual bool hears() const { return false; }
  virtual void write(const unit::WriteSeen& /*write*/) {}
  virtual void request(const bench::RequestSeen& /*request*/, bool /*again*/) {}
  /// An instant of the interval. What is decided gets the words of Finding, except that of something passed
  /// `happened` is a sentence's whole beginning, with nothing `expected`: "heater.state inhibited, 2.9 s".
  [[nodiscard]] virtual std::optional<Finding> look(SimTime now) = 0;
  /// Further instants to look at, whatever happens; nothing, or one that is past, if there are none.
  [[nodiscard]] virtual std::optional<SimTime> next() const { return std::nullopt; }
  /// The interval is over and nothing was decided: by the end of the run, which is its last instant, or
  /// otherwise.
  [[nodiscard]] virtual Finding over(SimTime end, bool by_run) = 0;
};

// The expectation and what the scene speaks of must outlive the question.

/// that, eventually (judge_within.cpp)
[[nodiscard]] std::unique_ptr<Question> ask_within(const Expectation& expectation, const Scene& scene);
/// always, never (judge_interval.cpp)
[[nodiscard]] std::unique_ptr<Question> ask_interval(const Expectation& expectation, const Scene& scene);
/// comes (judge_count.cpp)
[[nodiscard]] std::unique_ptr<Question> ask_count(const Expectation& expectation, const Scene& scene);
/// sequence (judge_sequence.cpp)
[[nodiscard]] std::unique_ptr<Question> ask_sequence(const Expectation& expectation, const Scene& scene);
/// what a master did (judge_conduct.cpp)
[[nodiscard]] std::unique_ptr<Question> ask_conduct(const Expectation& expectation, const Scene& scene);
/// Whichever of these it is.
[[nodiscard]] std::unique_ptr<Question> ask(const Expectation& expectation, const Scene& scene);

/// When the interval ends by its own length, that instant included: `for` of always and never, `within` of
/// count, sequence and conduct.
[[nodiscard]] std::optional<Duration> length_of(const Expectation& expectation);
/// Whether it is about the whole of its interval, or counts in it: in a single instant there is nothing to
/// see.
[[nodiscard]] bool needs_time(const Expectation& expectation);
/// Whether it can pass at the end of its interval only.
[[nodiscard]] bool met_at_end_only(const Expectation& expectation);

}  // namespace emberline::rehearsal
