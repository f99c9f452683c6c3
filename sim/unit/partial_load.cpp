#include "sim/unit/partial_load.hpp"

#include <algorithm>
#include <cmath>

namespace emberline::unit {

PartialLoad::PartialLoad(LearnOn learn_on, const std::vector<double>& reference_S)
    : wanted_(reference_S.empty() && learn_on == LearnOn::first_run) {
  if (reference_S.empty()) return;
  std::array<double, 3> reference{};
  for (std::size_t leg = 0; leg < reference.size(); ++leg)
    reference[leg] = reference_S[std::min(leg, reference_S.size() - 1)];
  reference_S_ = reference;
}

void PartialLoad::learn() {
  wanted_ = true;
  steady_since_.reset();
}

bool PartialLoad::fired(SimTime at, std::size_t legs, const Conductance& seen) {
  const bool learned = wanted_ && learn_from(at, legs, seen);
  if (reference_S_) judge(legs, seen);
  return learned;
}

bool PartialLoad::learn_from(SimTime at, std::size_t legs, const Conductance& seen) {
  bool steady = steady_since_.has_value();
  for (std::size_t leg = 0; leg < legs; ++leg) {
    // An open or unseen leg is nothing to learn.
    if (!seen[leg] || *seen[leg] <= 0.0) {
      steady_since_.reset();
      return false;
    }
    steady = steady && std::abs(*seen[leg] - at_first_S_[leg]) <= kSteadyWithin * at_first_S_[leg];
  }
  if (!steady) {
    steady_since_ = at;
    for (std::size_t leg = 0; leg < legs; ++leg) at_first_S_[leg] = *seen[leg];
    return false;
  }
  if (at - *steady_since_ < kSteady) return false;
  std::array<double, 3> reference{};
  for (std::size_t leg = 0; leg < legs; ++leg) reference[leg] = *seen[leg];
  reference_S_ = reference;
  wanted_ = false;
  steady_since_.reset();
  return true;
}

void PartialLoad::judge(std::size_t legs, const Conductance& seen) {
  std::optional<double> worst;
  for (std::size_t leg = 0; leg < legs; ++leg) {
    const double reference_S = (*reference_S_)[leg];
    if (!seen[leg] || reference_S <= 0.0) continue;
    const double share = *seen[leg] / reference_S;
    if (worst && *worst <= share) continue;
    worst = share;
    worst_leg_ = leg;
  }
  if (worst) intact_ = *worst;
}

}  // namespace emberline::unit
