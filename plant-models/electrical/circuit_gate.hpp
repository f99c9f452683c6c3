#pragma once

#include <array>
#include <cstddef>
#include <optional>

namespace emberline::plant {

/// When the gates of one pair of thyristors are fired during one mains cycle (0 to 2 pi, from the upward zero
/// of phase 1), at a firing angle. Each gate is held from its firing angle to the end of the half-wave of the
/// reference voltage, and in three-wire networks for 120 degrees at least: beyond a firing angle of 120
/// degrees the thyristor that was fired 60 degrees before would otherwise no longer be there to carry the
/// current back (published gate patterns for this controller are double pulses 60 degrees apart, or these 120
/// degrees).
class Gate {
 public:
  Gate() = default;
  /// `reference_rad`: where the reference voltage goes upward through zero. `firing_rad` 0 to pi; pi: never.
  /// `first_rad`: of the first half-wave that begins in this cycle.
  Gate(double reference_rad, double firing_rad, double least_width_rad, std::optional<double> first_rad);

  /// Of the thyristor that carries current of this sign.
  [[nodiscard]] bool permits(int direction, double at_rad) const;
  /// The first angle behind this one at which a gate is switched; 2 pi if there is none in this cycle.
  [[nodiscard]] double next_edge(double after_rad) const;

 private:
  struct Window {
    double from_rad, to_rad;
    int direction;
  };
  /// Of all half-waves that reach into the cycle.
  std::array<Window, 6> windows_{};
  std::size_t count_ = 0;
};

}  // namespace emberline::plant
