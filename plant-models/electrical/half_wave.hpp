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
/// beforehand, so that every integral is in closed form. Legs of one drop that are gated conduct at the same
/// time: what a piece of the half-wave brings is found once for all of them, and a leg takes the sum from its
/// first piece on, so that many legs with an angle each cost little more than few. Keeps its memory from call
/// to call.
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
  /// All legs with one drop.
  struct Kind {
    double drop_V;
    double conductance_S = 0.0;  ///< of those that are gated
    double offset_A = 0.0;       ///< sum of their G d
    double threshold_rad = 0.0;  ///< where they begin to conduct; they end at pi minus this
    bool gated = false;          ///< any of them
  };
  /// What a leg of one kind and 1 S has from a piece on to the end of the half-wave; in the meantime, of the
  /// piece alone.
  struct Share {
    bool conducts = false;  ///< in this piece
    double square = 0.0, mean = 0.0, peak = 0.0;
  };
  /// A stretch of a sixth of the cycle in which each of the three phases stays within one piece.
  struct Overlap {
    SineMoments moments;
    std::array<std::size_t, 3> pieces;
  };
  /// Of a leg of one kind and 1 S, from an overlap on: integrals of the squared sum of the three phases while
  /// only the third, the last two, or all of them are gated.
  using Threes = std::array<double, 3>;

  void find_kinds();
  void gate(std::size_t leg);
  void between_firings(double from_rad, double to_rad);
  void add_piece(double to_rad, std::size_t conducting);
  void sum_up();
  void find_overlaps();
  void find_threes();
  [[nodiscard]] double square_of(const Overlap& overlap, std::size_t kind, std::size_t first_phase) const;

  double peak_V_ = 0.0;
  double source_ohm_ = 0.0;
  std::span<const Leg> legs_;
  std::vector<std::size_t> by_firing_;
  std::vector<Kind> kinds_;           ///< of legs that are fired, ascending drop
  std::vector<std::size_t> kind_of_;  ///< leg by leg; of fired ones
  std::vector<std::size_t> gated_;    ///< kinds, ascending drop; the first ones of them conduct
  SineMoments::Angle at_{};
  std::vector<Piece> pieces_;
  std::vector<std::size_t> first_piece_;  ///< leg by leg: that begins with its firing; of fired ones
  std::vector<Share> shares_;             ///< piece by piece, kind by kind
  std::vector<Overlap> overlaps_;
  std::vector<Threes> threes_;  ///< overlap by overlap, kind by kind; behind the last ones a row of 0
  /// Phase by phase, piece by piece: the first overlap in which the phase is in this piece or a later one.
  std::array<std::vector<std::size_t>, 3> first_overlap_;
  double node_ = 0.0;
  double total_ = 0.0;
  std::vector<Current> currents_;
};

}  // namespace emberline::plant
