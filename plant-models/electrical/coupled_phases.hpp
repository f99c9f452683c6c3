#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <vector>

namespace emberline::plant {

/// Balanced three-phase loads behind a source resistance in each line when at least one of them is connected
/// in delta, so that the phases depend on each other. With i the currents of the conducting branches
///     v_p = e_p - R i_p,   star: i = G (v_p - s d),   delta: i = G (v_p - v_q - s d),   s the current's
///     sign,
/// the three phase voltages are a sin x + b cos x + c as long as the same branches conduct. The solver steps
/// through a sixth of the cycle from one change of that set to the next (a firing angle, or a branch whose
/// voltage passes its drop; both are found in closed form), and every mean square is in closed form as well.
/// Half-wave symmetry and balance make a sixth enough. Keeps its memory from call to call.
class CoupledPhases {
 public:
  struct Load {
    bool delta;
    double conductance_S;  ///< of a branch, above 0
    double drop_V;         ///< 0 or more
    double firing_rad;     ///< 0 to pi; pi: does not conduct. Delta: 0 or pi
  };
  struct Currents {
    double branch_mean_square = 0.0;
    double line_mean_square = 0.0;
    double neutral_mean_square = 0.0;
  };

  /// `peak_V` line to neutral, `source_ohm` of each phase, above 0.
  void solve(double peak_V, double source_ohm, std::span<const Load> loads);
  [[nodiscard]] double node_mean_square() const { return node_; }
  [[nodiscard]] const Currents& currents(std::size_t load) const { return currents_[load]; }

 private:
  /// a sin x + b cos x + c, in V or A.
  using Wave = std::array<double, 3>;
  struct Branch {
    std::size_t load;
    std::size_t phase;  ///< star: to neutral; delta: from here to the next phase
    int direction;      ///< of the current: 1, 0, -1
  };

  [[nodiscard]] bool gated(const Branch& branch, double at_rad) const;
  [[nodiscard]] Wave voltage(const Branch& branch) const;
  [[nodiscard]] Wave current(const Branch& branch) const;
  [[nodiscard]] int wanted_direction(const Branch& branch, double at_rad) const;
  void settle(double at_rad);
  void find_nodes();
  [[nodiscard]] double next_change(double after_rad) const;
  void integrate(double from_rad, double to_rad);

  double peak_V_ = 0.0;
  double source_ohm_ = 0.0;
  std::span<const Load> loads_;
  std::vector<Branch> branches_;
  std::array<Wave, 3> nodes_{};
  double node_ = 0.0;
  std::vector<Currents> currents_;
};

}  // namespace emberline::plant
