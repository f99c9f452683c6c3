#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <vector>

#include "plant-models/electrical/sine_moments.hpp"

namespace emberline::plant {

/// Resistive legs with thyristors at one node behind a source's resistance, over one half-wave of the
/// source E sin x, x = 0 to pi. Leg j is gated from its firing angle to the end of the half-wave and conducts
/// while the node is above its drop:
///     i_j = G_j (v - d_j),   v = (E sin x + R sum G_j d_j) / (1 + R sum G_j), sums over the conducting legs
/// Which legs conduct changes only at the firing angles and where the source passes a threshold that is known
/// beforehand, so that every integral is in closed form. Keeps its memory from call to call.
class HalfWave {
 public:
  struct Leg {
    double conductance_S;  ///< above 0
    double drop_V;         ///< 0 or more
    double firing_rad;     ///< 0 to pi; pi: does not conduct
  };

  /// `legs` in any order; `source_ohm` 0 or more.
  void solve(double peak_V, double source_ohm, std::span<const Leg> legs);

  [[nodiscard]] double node_mean_square() const { return node_; }
  [[nodiscard]] double current_mean_square(std::size_t leg) const { return currents_[leg].square; }
  [[nodiscard]] double current_mean(std::size_t leg) const { return currents_[leg].mean; }
  [[nodiscard]] double current_peak(std::size_t leg) const { return currents_[leg].peak; }
  /// Mean of node voltage times current.
  [[nodiscard]] double power(std::size_t leg) const { return currents_[leg].power; }
  /// Mean square of the current of all legs together.
  [[nodiscard]] double total_mean_square() const { return total_; }
  /// Mean square of the sum of this leg's current and those of its two copies 120 and 240 degrees later.
  [[nodiscard]] double sum_of_three_mean_square(std::size_t leg);
  /// The same of all legs together.
  [[nodiscard]] double sum_of_three_totals_mean_square();

 private:
  struct Piece {
    SineMoments::Angle from;
    SineMoments::Angle to;
    double node_sine;
    double node_constant;
    double conductance_S;  ///< of the legs that conduct
    double offset_A;       ///< sum of their G d
  };
  struct Current {
    double square = 0.0, mean = 0.0, power = 0.0, peak = 0.0;
  };
  /// A stretch of a sixth of the cycle in which each of the three phases stays within one piece.
  struct Overlap {
    SineMoments moments;
    std::array<std::size_t, 3> pieces;
  };

  void between_firings(double from_rad, double to_rad);
  void add_piece(double to_rad, std::size_t conducting);
  void find_overlaps();

  double peak_V_ = 0.0;
  double source_ohm_ = 0.0;
  std::span<const Leg> legs_;
  std::vector<std::size_t> by_firing_;
  std::vector<std::size_t> gated_;      ///< ascending drop; the first ones of them conduct
  std::vector<double> thresholds_rad_;  ///< where gated_[k] begins to conduct; it ends at pi minus this
  SineMoments::Angle at_{};
  std::vector<Piece> pieces_;
  std::vector<char> conducts_;  ///< piece by piece, leg by leg
  std::vector<Overlap> overlaps_;
  double node_ = 0.0;
  double total_ = 0.0;
  std::vector<Current> currents_;
};

}  // namespace emberline::plant
