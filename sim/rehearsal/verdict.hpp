#pragma once

#include <algorithm>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/sim_time.hpp"
#include "sim/bench/journal.hpp"
#include "sim/bench/traffic.hpp"
#include "sim/rehearsal/evidence.hpp"

namespace emberline::rehearsal {

/// How one expectation ended.
struct Outcome {
  std::string name;
  enum class Result : std::uint8_t { passed, failed, not_judged } result = Result::not_judged;
  std::string sentence;       ///< what was expected, what happened, when; also for a pass
  std::optional<SimTime> at;  ///< when it was decided
  Around around;              ///< of a failure: the signals it speaks of, at and around `at`
};

/// Whether all of them passed. A story that expects nothing has proved nothing.
[[nodiscard]] inline bool all_passed(const std::vector<Outcome>& outcomes) {
  return !outcomes.empty() && std::all_of(outcomes.begin(), outcomes.end(), [](const Outcome& outcome) {
    return outcome.result == Outcome::Result::passed;
  });
}

/// Whether none of them failed and one passed at least: how a lesson is judged, whose trainer may have left
/// out what some of them hang on.
[[nodiscard]] inline bool none_failed(const std::vector<Outcome>& outcomes) {
  const auto any = [&outcomes](Outcome::Result result) {
    return std::any_of(outcomes.begin(), outcomes.end(),
                       [result](const Outcome& outcome) { return outcome.result == result; });
  };
  return any(Outcome::Result::passed) && !any(Outcome::Result::failed);
}

/// How a rehearsal ended: passed when every expectation did. An expectation that could not be judged is a
/// failure.
struct Verdict {
  std::string title;
  std::string file_stem;
  std::string why;
  std::string version;  ///< of the program that ran it
  std::uint64_t seed = 0;
  SimTime ended;
  bool passed = false;
  std::vector<Outcome> outcomes;
  std::vector<bench::Journal::Entry> journal;
  /// The closest call of each unit's watchdog.
  struct ClosestCall {
    std::string unit;
    Duration longest_gap;
    Duration timeout;  ///< 0: no supervision
  };
  std::vector<ClosestCall> closest_calls;
  std::uint64_t transactions = 0;  ///< requests the stand-ins sent
  /// Late answers to earlier requests that a stand-in took for the answer to a later one.
  std::uint64_t mistaken_answers = 0;
  bench::TrafficReview traffic;
  /// What the traffic was beside a poll plan of the scenario.
  struct PlanReview {
    std::string plan;  ///< its title
    std::string line;
    std::vector<std::string> sentences;
  };
  std::vector<PlanReview> plan_reviews;
  std::vector<Mark> marks;  ///< in the order of time
  std::vector<Trend> trends;
  std::vector<WritesOfPoint> writes;  ///< by master, then point
  std::vector<Silence> silences;      ///< of units and io-blocks, in the order of the bench
  std::vector<InputFile> files;       ///< what it was made from
  bool real_master = false;           ///< the stand-ins were left out
  bool by_hand = false;               ///< a human did what the timeline asks for
  bool wall_clock = false;
  double plant_speed = 1.0;
};

}  // namespace emberline::rehearsal
