#include <algorithm>

#include "plant-models/electrical/circuit_unit.hpp"

namespace emberline::plant {
namespace {
/// A line that is cut off altogether still needs a place for its end in the equations.
constexpr double kIsolated_S = 1e-15;
/// Of a leg's conductance: what leaks without a voltage worth the name across the leg.
constexpr double kHardly_share = 1e-9;
}  // namespace

double UnitCircuit::leak_S(const PairCircuit& pair) const {
  if (pair.isolated) return 0.0;
  if (hardly_leaks_)
    return std::min(leakage_S_, kHardly_share * *std::max_element(leg_S_.begin(), leg_S_.end()));
  // In steps of time what leaks beside two conducting lines counts as nothing, see set_stepped().
  const bool nothing = stepped_ && shape_ != Shape::own_branches && conducting() >= 2;
  return nothing ? 0.0 : leakage_S_;
}

/// In steps of time what leaks vanishes as soon as a second line conducts, so it must not decide whether one
/// begins to: lifted by what leaks through the legs, a pair would begin, find itself without that help, end
/// at once, and so on. While one line conducts alone the others are switched by the voltages without leakage.
void UnitCircuit::reduce() {
  std::optional<std::array<Form, 3>> switching_V;
  if (stepped_ && shape_ != Shape::own_branches && conducting() == 1) {
    hardly_leaks_ = true;
    reduce_shape();
    hardly_leaks_ = false;
    switching_V = pair_V;
  }
  reduce_shape();
  if (switching_V) pair_V = *switching_V;
}

void UnitCircuit::reduce_shape() {
  line_A = {};
  node_A = {};
  neutral_A = {};
  switch (shape_) {
    case Shape::own_branches:
      return reduce_own();
    case Shape::star:
      return reduce_star();
    case Shape::delta:
      return reduce_delta();
  }
}

/// Pair and leg in series between two nodes, or a node and neutral.
void UnitCircuit::reduce_own() {
  for (std::size_t l = 0; l < legs; ++l) {
    const PairCircuit& pair = pairs_[l];
    Form across = node_form(from_[l]);
    if (to_[l] != kNeutral) across.node[to_[l]] -= 1.0;
    if (conducts(pair)) {
      leg_V[l] = across + -pair.direction * drop_V(pair, pair.direction);
    } else {
      const double leaks_S = leak_S(pair);
      const double both_S = leg_S_[l] + leaks_S;
      leg_V[l] = both_S > 0.0 ? (across * leaks_S + -leg_source_A_[l]) * (1.0 / both_S) : Form{};
    }
    pair_V[l] = across - leg_V[l];
    leg_A[l] = pair.isolated ? Form{} : leg_V[l] * leg_S_[l] + leg_source_A_[l];
    pair_A[l] = leg_A[l];
    line_A[from_[l]] = line_A[from_[l]] + leg_A[l];
    const bool counts = !stepped_ || conducts(pair);
    if (counts) node_A[from_[l]] = node_A[from_[l]] + leg_A[l];
    if (to_[l] == kNeutral) {
      neutral_A = neutral_A + leg_A[l];
    } else {
      line_A[to_[l]] = line_A[to_[l]] - leg_A[l];
      if (counts) node_A[to_[l]] = node_A[to_[l]] - leg_A[l];
    }
  }
}

/// Each line's pair and leg in series to a star point that hangs on nothing else:
///     i_k = G_k (v_k - n) + H_k,   sum of i_k = 0
void UnitCircuit::reduce_star() {
  std::array<double, 3> slope_S{};
  std::array<double, 3> source_A{};
  Form star;
  double sum_S = 0.0;
  for (std::size_t k = 0; k < 3; ++k) {
    const PairCircuit& pair = pairs_[k];
    if (conducts(pair)) {
      slope_S[k] = leg_S_[k];
      source_A[k] = leg_source_A_[k] - leg_S_[k] * pair.direction * drop_V(pair, pair.direction);
    } else if (const double leaks_S = leak_S(pair); leaks_S > 0.0) {
      const double share = leaks_S / (leg_S_[k] + leaks_S);
      slope_S[k] = share * leg_S_[k];
      source_A[k] = share * leg_source_A_[k];
    }
    star.node[k] = slope_S[k];
    star.constant += source_A[k];
    sum_S += slope_S[k];
  }
  star = star * (sum_S > 0.0 ? 1.0 / sum_S : 0.0);
  for (std::size_t k = 0; k < 3; ++k) {
    const PairCircuit& pair = pairs_[k];
    const Form across = node_form(k) - star;
    if (conducts(pair)) {
      leg_V[k] = across + -pair.direction * drop_V(pair, pair.direction);
    } else if (pair.isolated) {
      leg_V[k] = {};
    } else if (leg_S_[k] > 0.0) {
      const double leaks_S = leak_S(pair);
      leg_V[k] = (across * leaks_S + -leg_source_A_[k]) * (1.0 / (leg_S_[k] + leaks_S));
    } else {
      leg_V[k] = across;  // nothing flows, and all of it leaks across
    }
    pair_V[k] = across - leg_V[k];
    leg_A[k] = across * slope_S[k] + source_A[k];
    pair_A[k] = line_A[k] = leg_A[k];
  }
  if (!stepped_ || conducting() >= 2) node_A = line_A;
}

/// Legs between the inner ends of the lines. Ends behind conducting pairs are at their line's voltage; for
/// the others the sum of the currents is solved.
void UnitCircuit::reduce_delta() {
  std::array<std::array<double, 3>, 3> matrix{};
  std::array<std::array<double, 4>, 3> right{};
  for (std::size_t k = 0; k < 3; ++k) {
    const PairCircuit& pair = pairs_[k];
    const std::size_t next = (k + 1) % 3;
    const std::size_t last = (k + 2) % 3;
    if (conducts(pair)) {
      matrix[k][k] = 1.0;
      right[k][k] = 1.0;
      right[k][3] = -pair.direction * drop_V(pair, pair.direction);
      continue;
    }
    const double leaks_S = std::max(leak_S(pair), kIsolated_S);
    matrix[k][k] = leaks_S + leg_S_[k] + leg_S_[last];
    matrix[k][next] = -leg_S_[k];
    matrix[k][last] = -leg_S_[last];
    right[k][k] = leaks_S;
    right[k][3] = leg_source_A_[last] - leg_source_A_[k];
  }
  solve_three(matrix, right);
  std::array<Form, 3> end;
  for (std::size_t k = 0; k < 3; ++k) end[k] = {{right[k][0], right[k][1], right[k][2]}, right[k][3]};
  for (std::size_t k = 0; k < 3; ++k) {
    leg_V[k] = end[k] - end[(k + 1) % 3];
    leg_A[k] = leg_V[k] * leg_S_[k] + leg_source_A_[k];
  }
  for (std::size_t k = 0; k < 3; ++k) {
    pair_V[k] = node_form(k) - end[k];
    line_A[k] = pairs_[k].isolated ? Form{} : leg_A[k] - leg_A[(k + 2) % 3];
    pair_A[k] = line_A[k];
  }
  if (!stepped_ || conducting() >= 2) node_A = line_A;
}

}  // namespace emberline::plant
