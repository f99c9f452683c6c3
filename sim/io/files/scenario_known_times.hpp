#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "sim/rehearsal/scenario_spec.hpp"

namespace emberline::io {

/// What can be said, before a run, of when the anchors of a scenario come.
class KnownTimes {
 public:
  /// `spec` must outlive this.
  explicit KnownTimes(const rehearsal::ScenarioSpec& spec);

  /// When something comes.
  struct When {
    SimTime earliest;    ///< not before this
    bool exact = false;  ///< and neither later: it hangs on times alone, and on no human
  };
  /// Nothing if it can never come.
  [[nodiscard]] std::optional<When> of(const rehearsal::Anchor& anchor) const;
  /// Every time an anchor's moment comes, whatever its nth: of conditions and expectations the first time.
  [[nodiscard]] std::vector<When> all_of(const rehearsal::Anchor& anchor) const;
  /// When the interval of an expectation that begins then has its `until`: of an action the first time it is
  /// done from the beginning on. Nothing if that can never come.
  [[nodiscard]] std::optional<When> end_of(const rehearsal::Expectation& expectation, const When& from) const;
  /// When an entry of the timeline happens.
  [[nodiscard]] std::optional<When> of_entry(std::size_t entry) const { return entries_[entry]; }
  /// The entries of the timeline, by their numbers, that an anchor speaks of.
  [[nodiscard]] std::vector<std::size_t> entries_of(const rehearsal::Anchor& anchor) const;

 private:
  [[nodiscard]] std::vector<When> times_of_action(const rehearsal::Anchor& anchor) const;
  [[nodiscard]] std::optional<When> of_action(const rehearsal::Anchor& anchor) const;
  [[nodiscard]] std::optional<When> of_expectation(const std::string& name) const;
  [[nodiscard]] std::optional<When> falls_due(std::size_t entry) const;

  const rehearsal::ScenarioSpec& spec_;
  std::vector<std::optional<When>> entries_;  ///< of the timeline; nothing: never, as far as is known yet
  mutable std::vector<std::string> asked_;    ///< expectations whose time is being looked for
};

}  // namespace emberline::io
