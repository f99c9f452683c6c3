#pragma once

#include <memory>
#include <optional>
#include <string>

#include "sim/bench/bench_spec.hpp"
#include "sim/bench/line_observer.hpp"
#include "sim/rehearsal/conduct.hpp"
#include "sim/rehearsal/verdict.hpp"

namespace emberline::rehearsal {

/// How an expectation on a master's doings ended. Sentences are made of it:
///     failed, passed:  "expected " + expected + " after cut field (20 s); " + happened
///     not judged:      "could not be judged: " + happened + " after cut field (20 s)"
struct Finding {
  Outcome::Result result = Outcome::Result::not_judged;
  std::string expected;  ///< "the first write of soak-heater.setpoint to be at most 0 %"
  std::string happened;  ///< "it was 50 % by plc at 16 s"; not judged: "nobody wrote soak-heater.setpoint"
  SimTime at;            ///< when it was decided
};

/// What judges one kind of conduct (conduct_rules.hpp).
class ConductRule;

/// Judges one expectation on a master's doings over its interval. What each kind means, and what counts at
/// the very ends of windows, stands in conduct_rules.hpp.
///
/// A write is what unit::WriteSeen tells: a value that reached a point of a unit, with its address right,
/// whether taken, refused or ignored, broadcast or not. What is refused before that (01, 02, busy 06) is no
/// write of the point; `exceptions` counts it. A read is a request with function 01 to 04 or 17 (hex) that
/// takes in every register or bit of a row of the point in the unit's register table, whichever row.
class ConductJudge {
 public:
  /// `any_master`: nobody knows masters by their names, as on real lines. Then every master counts, whatever
  /// `conduct.by` says; one of several could not be judged. Conduct and bench must outlive the judge.
  ConductJudge(const Conduct& conduct, const bench::BenchSpec& bench, bool any_master);
  ~ConductJudge();
  ConductJudge(ConductJudge&&) noexcept;
  ConductJudge& operator=(ConductJudge&&) noexcept;

  /// The interval begins; once, before anything else is called.
  void begin(SimTime at);
  /// A write, or a request, inside the interval, in the order in which they come: a request's writes before
  /// the request itself, as a LineObserver sees them. `again`: the request is the one before once more
  /// (bench::Retries; MasterWatch tells).
  void write(const unit::WriteSeen& write);
  void request(const bench::RequestSeen& request, bool again);
  /// What is decided as of `now`, after everything of that instant was told. Look once after every instant
  /// of the interval at which anything happened, at next(), and at the end of the interval if that belongs to
  /// it; once it is decided, the rest may be left out.
  [[nodiscard]] std::optional<Finding> look(SimTime now) const;
  /// When it will be decided if nothing more happens; nothing if that is at the end of the interval.
  [[nodiscard]] std::optional<SimTime> next() const;
  /// The interval is over; for what look() has not decided by then.
  [[nodiscard]] Finding finish(SimTime end) const;

 private:
  [[nodiscard]] bool counts(std::string_view master) const;

  const Conduct* conduct_;
  bool any_master_;
  std::unique_ptr<ConductRule> rule_;
};

/// Whether a write is one that `conduct` speaks of: of its point, by whoever counts, and with a value that
/// its condition accepts if it has one. For the steps of a sequence.
[[nodiscard]] bool matches_write(const Conduct& conduct, const bench::BenchSpec& bench,
                                 const unit::WriteSeen& write, bool any_master = false);

}  // namespace emberline::rehearsal
