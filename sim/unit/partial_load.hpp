#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <vector>

#include "sim/base/sim_time.hpp"
#include "sim/unit/unit_spec.hpp"

namespace emberline::unit {

/// What each leg of the load conducts, against what it conducted when the load was learned: one of n equal
/// elements in parallel that opens leaves (n - 1)/n.
///
/// Conductance is RMS current over RMS voltage of a leg in a fired cycle, so it does not depend on firing
/// angle or supply as long as the load is resistive. It does depend on temperature: of materials whose
/// resistance changes much, the reference is to be learned hot. The reference survives a power cycle of the
/// unit.
class PartialLoad {
 public:
  /// How long firing has to be steady before it is learned from.
  static constexpr Duration kSteady = std::chrono::seconds{2};
  /// By how much conductance may move while firing counts as steady: a filament that heats up is not.
  static constexpr double kSteadyWithin = 0.02;

  /// By leg; nothing where the cycle did not show it.
  using Conductance = std::array<std::optional<double>, 3>;

  /// `reference_S`: by leg, the last goes for all that follow; empty: to be learned.
  PartialLoad(LearnOn learn_on, const std::vector<double>& reference_S);

  /// Learns anew from the next steady firing on. Until then the old reference holds.
  void learn();
  /// A fired cycle that ended at `at`, of a load of `legs` legs. True when it completed a reference.
  bool fired(SimTime at, std::size_t legs, const Conductance& seen);
  /// Firing was interrupted (not: the pause between two bursts).
  void interrupted() { steady_since_.reset(); }

  [[nodiscard]] bool has_reference() const { return reference_S_.has_value(); }
  /// By leg; 0 if there is none.
  [[nodiscard]] std::array<double, 3> reference_S() const {
    return reference_S_.value_or(std::array<double, 3>{});
  }
  /// True while steady firing is being waited for and goes on.
  [[nodiscard]] bool learning() const { return wanted_ && steady_since_.has_value(); }
  /// Conductance of the worst leg as a share of its reference, of the last cycle that showed it; 1 if there
  /// is no reference.
  [[nodiscard]] double intact() const { return intact_; }
  [[nodiscard]] std::size_t worst_leg() const { return worst_leg_; }

 private:
  bool learn_from(SimTime at, std::size_t legs, const Conductance& seen);
  void judge(std::size_t legs, const Conductance& seen);

  std::optional<std::array<double, 3>> reference_S_;
  bool wanted_;
  std::optional<SimTime> steady_since_;
  std::array<double, 3> at_first_S_{};  ///< when it began to be steady
  double intact_ = 1.0;
  std::size_t worst_leg_ = 0;
};

}  // namespace emberline::unit
