#pragma once

#include <array>
#include <cstddef>
#include <optional>

#include "plant-models/materials/material.hpp"

namespace emberline::plant {

/// How the legs of a load hang on the supply. Star-3-wire and delta: the thyristors are in the lines. Open
/// delta (six wires): a pair of thyristors in series with each element, between two lines.
enum class Connection { single_phase, star_4_wire, star_3_wire, delta, open_delta };
enum class Grouping { parallel, series };
/// Where a single-phase load hangs on a three-phase supply. On a single-phase supply: l1_n.
enum class Across { l1_n, l2_n, l3_n, l1_l2, l2_l3, l3_l1 };

/// A transformer between the thyristors and each leg of the load. All values referred to the primary.
///     lambda' = v - ..., i_magnetising = lambda / L_m below the knee, and beyond it L_air more steeply
struct TransformerParameters {
  double ratio = 1.0;                     ///< primary turns to secondary turns, above 0
  double winding_resistance_ohm = 0.0;    ///< both windings, 0 or more
  double leakage_inductance_H = 0.0;      ///< both windings, 0 or more
  double magnetising_inductance_H = 1.0;  ///< below the knee, above 0
  double knee = 1.2;  ///< flux at which the core saturates, as a multiple of the peak at the
                      ///< leg's nominal voltage; above 0
  double saturated_inductance_H = 1e-3;  ///< beyond the knee, above 0
  double remanence = 0.0;                ///< flux that stays when nothing flows, as a multiple of that peak
};

/// A load behind one thyristor unit, as the bench file sets it.
struct LoadParameters {
  Connection connection = Connection::single_phase;
  Across across = Across::l1_n;  ///< single-phase only
  int controlled_legs = 3;       ///< 2: lines 1 and 2 are controlled, line 3 is direct; three-wire loads only
  int elements = 1;              ///< per leg, 1 or more
  Grouping grouping = Grouping::parallel;
  const Material* material = nullptr;  ///< never null when used
  std::array<double, 3> cold_resistance_ohm{1.0, 1.0,
                                            1.0};  ///< of one element of each leg at 20 degC, above 0
  std::array<double, 3> inductance_H{};            ///< of each leg, in series, 0 or more
  double thyristor_drop_V = 1.2;                   ///< forward drop while conducting, 0 or more
  double leakage_A = 0.0;  ///< RMS through a pair that is off with the leg's nominal voltage across it
  std::array<double, 3> ageing{1.0, 1.0, 1.0};  ///< what LegState::ageing of each leg begins with; a Network
                                                ///< looks at the state only
  std::optional<TransformerParameters> transformer;

  [[nodiscard]] std::size_t legs() const { return connection == Connection::single_phase ? 1 : 3; }
  /// True when the thyristors of all legs depend on each other: star without neutral, delta in the lines.
  [[nodiscard]] bool three_wire() const {
    return connection == Connection::star_3_wire || connection == Connection::delta;
  }
};

/// What has happened to one leg and to the pair of thyristors that feeds it (three-wire: line 1 to 3).
struct LegState {
  int elements_open = 0;   ///< of those in parallel; in series one is enough to open the leg
  double ageing = 1.0;     ///< factor on the resistance of every element, above 0
  bool fuse_open = false;  ///< in the line, in front of the thyristors
  /// The thyristor that carries positive current (forward), and its partner.
  bool forward_open = false;
  bool backward_open = false;
  bool forward_shorted = false;
  bool backward_shorted = false;
  bool operator==(const LegState&) const = default;
};

/// What one load's power stage does during the mains cycle in question.
///
/// Angles count from the zero of the voltage across the leg (single-phase, star with neutral, open delta), or
/// of the line's own phase voltage (thyristors in the lines of a star without neutral or a delta). Gates are
/// held to the end of the half-wave; in three-wire loads for 120 degrees at least, without which no two lines
/// would be fired together beyond 120 degrees. At exactly 0 a pair begins at the next zero of its own voltage
/// and is fired all the time from there on: whole half-waves, as in bursts.
struct Conduction {
  bool connected = true;          ///< contactor closed
  double firing_angle_deg = 180;  ///< 0: whole half-waves from the zero of its own voltage on; 180: off
  double element_degC = 20.0;
  std::array<LegState, 3> legs{};
  /// The first half-wave that begins in this cycle is fired at this angle instead, leg by leg: how a burst
  /// into a transformer begins without an inrush.
  std::optional<double> first_half_deg = std::nullopt;
  bool operator==(const Conduction&) const = default;
};

/// Resistance of one leg of the load itself (secondary side of a transformer); infinite when open.
[[nodiscard]] double leg_resistance_ohm(const LoadParameters& load, std::size_t leg, double element_degC,
                                        const LegState& state = {});

}  // namespace emberline::plant
