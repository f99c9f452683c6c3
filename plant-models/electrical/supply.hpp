#pragma once

#include <array>

namespace emberline::plant {

enum class System { single_phase, three_phase };

/// The mains as the bench file sets it.
struct SupplyParameters {
  System system = System::three_phase;
  double voltage_V = 400.0;     ///< RMS; three-phase: line to line, single-phase: across the supply; above 0
  double frequency_Hz = 50.0;   ///< above 0
  double resistance_ohm = 0.0;  ///< of the source, each phase (single-phase: of the loop), 0 or more
  double inductance_H = 0.0;    ///< of the source, likewise
  std::array<double, 3> phase_share{1.0, 1.0, 1.0};  ///< each phase's voltage as a share of the nominal one
  bool reversed = false;  ///< phase rotation l1, l3, l2: l2 lags l1 by 240 degrees instead of 120
};

/// True if one of the lines is interrupted.
[[nodiscard]] constexpr bool any_open(const std::array<bool, 3>& open) {
  return open[0] || open[1] || open[2];
}

/// What is wrong with the mains during the mains cycle in question.
struct SupplyState {
  std::array<double, 3> share{1.0, 1.0,
                              1.0};  ///< of the voltage the parameters say: a dip, a swell; 0 or more
  std::array<bool, 3> open{};        ///< the line is interrupted: nothing flows in it
  double frequency_Hz = 50.0;        ///< above 0; only reactances care
  bool operator==(const SupplyState&) const = default;
};

}  // namespace emberline::plant
