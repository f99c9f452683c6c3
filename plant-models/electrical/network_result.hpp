#pragma once

#include <array>
#include <vector>

namespace emberline::plant {

/// One leg over one cycle.
struct Leg {
  double voltage_V = 0.0;  ///< RMS across the load (transformer: across its primary)
  double current_A = 0.0;  ///< RMS
  double power_W = 0.0;    ///< mean, of the load (transformer: into its primary)
};

/// One pair of thyristors over one cycle: star and single-phase of each leg, delta of each line.
struct Pair {
  double mean_A = 0.0;  ///< mean of |i|: what heats the thyristors is drop times this
  double dc_A = 0.0;    ///< mean of i: not 0 when the half-waves differ
  double peak_A = 0.0;  ///< largest |i|
};

struct LoadResult {
  std::array<Leg, 3> legs{};  ///< of the elements: L1..L3, with delta and open delta L12, L23, L31;
                              ///< single-phase: [0] only
  std::array<Pair, 3> pairs{};
  std::array<double, 3> line_current_A{};  ///< RMS, by supply line (single-phase across l2_n: [1])
  std::array<double, 3> line_power_W{};    ///< mean of line-neutral voltage at the busbar times line current
  double neutral_current_A = 0.0;          ///< RMS; star-4-wire: of the sum of the three line currents
  /// What the elements of each leg turn into heat: legs[].power_W, but behind a transformer I^2 R of them
  /// alone, without what the winding and the core take.
  std::array<double, 3> element_W{};
  std::array<double, 3> leg_resistance_ohm{};  ///< as they are in this cycle; infinite: open
};

struct NetworkResult {
  std::vector<LoadResult> loads;
  std::array<double, 3>
      supply_voltage_V{};  ///< RMS line-neutral at the busbar, with sag; single-phase: [0] only
  /// RMS at the busbar between lines, l1-l2, l2-l3, l3-l1: of the difference of their voltages, so that a
  /// line that is interrupted floats. Plain cycles (see Network): sqrt 3 times the line-neutral RMS, which
  /// leaves out that third harmonics of the sag cancel between lines. Single-phase: 0.
  std::array<double, 3> supply_line_V{};
  std::array<double, 3> supply_current_A{};  ///< RMS of all loads together, by line
  double supply_neutral_A = 0.0;             ///< RMS
};

/// One cycle of one load as samples, for drawing: sample k is at (k + 1/2)/kSamples of the cycle that begins
/// at the upward zero of phase 1.
struct Waves {
  static constexpr std::size_t kSamples = 360;
  using Wave = std::array<double, kSamples>;
  std::array<Wave, 3> supply_V{};   ///< line-neutral at the busbar
  std::array<Wave, 3> voltage_V{};  ///< across the legs of the load
  std::array<Wave, 3> current_A{};  ///< through the legs
  std::array<Wave, 3> line_A{};     ///< in the lines
};

}  // namespace emberline::plant
