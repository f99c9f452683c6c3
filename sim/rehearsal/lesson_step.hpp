#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/base/sim_time.hpp"
#include "sim/rehearsal/anchor.hpp"

namespace emberline::rehearsal {

/// One step of a lesson: what is said, what a class is asked to predict, what then is done to the bench and
/// what is waited for.
struct LessonStep {
  std::string title;
  std::string say;                   ///< paragraphs, with an empty line between them
  std::string question;              ///< what the class is asked to predict; empty: nothing
  std::vector<std::string> answers;  ///< to choose from; two at least where there is a question
  std::size_t right = 0;             ///< which of them is right, counted from 0
  std::string because;               ///< why, told when it has been seen
  std::vector<std::size_t> does;  ///< entries of ScenarioSpec::timeline that happen when the trainer goes on
  std::string button;             ///< what going on is called; empty: by what is done
  std::optional<Anchor> until;    ///< conditions: the bench is watched until they hold
  std::optional<Duration> watch;  ///< the bench is watched for so long; nothing: until `until`
  Duration within{std::chrono::minutes{1}};  ///< `until`: watched no longer than this
  std::vector<std::string> look_at;          ///< names of signals to look at
  Place place;                               ///< in the scenario's file, for messages

  /// Going on does something, or there is something to watch.
  [[nodiscard]] bool acts() const { return !does.empty() || until.has_value() || watch.has_value(); }
};

/// How long the bench is watched when something is done and nothing says until when.
inline constexpr Duration kWatchedAnyway = std::chrono::seconds{3};

}  // namespace emberline::rehearsal
