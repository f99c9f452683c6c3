#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "sim/base/listed.hpp"
#include "sim/io/files/scenario_known_times.hpp"
#include "sim/io/files/scenario_parts.hpp"
#include "sim/rehearsal/judge_words.hpp"

namespace emberline::io {

/// What an expectation (under `node`) asks of masters that no stand-in of the scenario ever does. Without
/// stand-ins anybody may come and do anything.
void check_masters(const Node& node, const rehearsal::Expectation& expectation, ScenarioDraft& draft);

/// The last instant an interval can have, as far as it is known: of itself the end of the run.
[[nodiscard]] SimTime last_of(const rehearsal::Expectation& expectation, const KnownTimes& times,
                              const KnownTimes::When& from, SimTime ends);

/// Looks through a scenario that has been read for what can never happen or never be judged.
class Sense {
 public:
  Sense(const Node& root, ScenarioDraft& draft)
      : root_(root), draft_(draft), spec_(draft.spec), times_(draft.spec) {}

  void check() {
    check_timeline();
    const auto* expect = root_.find("expect");
    for (std::size_t i = 0; i < spec_.expectations.size() && i < expect->items.size(); ++i)
      check_expectation(expect->items[i], spec_.expectations[i]);
    check_lesson();
    // What hangs on an entry that was told of above goes without a line of its own.
    if (draft_.problems.empty() && never_) say(never_->place, never_->message);
  }

 private:
  void say(const Place& place, std::string message) { complain(draft_.problems, place, std::move(message)); }
  [[nodiscard]] std::string after_the_end() const {
    return ", after the end of the run (" + rehearsal::words_of(spec_.ends) + ")";
  }

  void check_timeline();
  void check_lesson();
  [[nodiscard]] const Node* node_of(const rehearsal::TimelineEntry& entry) const;
  bool check_anchor(const Node& node, const rehearsal::Anchor& anchor);
  [[nodiscard]] bool is_met_by_end_of_run(const rehearsal::Anchor& anchor) const;
  [[nodiscard]] std::string what_there_is(const std::string& what, const rehearsal::Anchor& anchor) const;
  void check_limits(const Node* node, const std::vector<rehearsal::Condition>& conditions);

  void check_expectation(const Node& node, const rehearsal::Expectation& expectation);
  void check_until(const Node& node, const rehearsal::Expectation& expectation, const KnownTimes::When& from);
  void check_lengths(const Node& node, const rehearsal::Expectation& expectation,
                     const KnownTimes::When& from);
  void check_length(const Node* node, const rehearsal::Expectation& expectation, const KnownTimes::When& from,
                    Duration length);
  void check_room(const Node* node, const rehearsal::Expectation& expectation, const KnownTimes::When& from,
                  Duration length);
  bool check_single(const Node* node, const rehearsal::Expectation& expectation,
                    const KnownTimes::When& from);
  void check_window(const Node& node, const rehearsal::Expectation& expectation,
                    const KnownTimes::When& from);
  [[nodiscard]] std::optional<int> happens_too_seldom(const rehearsal::Expectation& expectation,
                                                      std::size_t step) const;
  void check_steps(const Node* node, const rehearsal::Expectation& expectation,
                   const std::optional<KnownTimes::When>& from);

  const Node& root_;
  ScenarioDraft& draft_;
  const rehearsal::ScenarioSpec& spec_;
  KnownTimes times_;
  std::optional<Diagnostic> never_;  ///< of the first anchor that only waits for itself
};

}  // namespace emberline::io
