#pragma once

#include <array>
#include <vector>

#include "plant-models/electrical/circuit_forms.hpp"
#include "plant-models/electrical/circuit_unit.hpp"
#include "plant-models/electrical/network_result.hpp"
#include "plant-models/electrical/sine_moments.hpp"

namespace emberline::plant {

/// The currents in the supply's lines over one stretch of a cycle: what is needed to add up units that were
/// solved one by one.
struct LineStretch {
  SineMoments::Angle from, to;
  std::array<SineWave, 3> line_A;
};

/// Values of one unit at an instant.
struct UnitValues {
  std::array<double, 3> leg_V{}, leg_A{}, pair_A{}, line_A{};
  double neutral_A = 0.0;
  std::array<double, 3> element_W{};  ///< behind a transformer only
};
[[nodiscard]] UnitValues values_at(const UnitCircuit& unit, const std::array<double, 3>& nodes_V);

/// Integrals of the busbar's voltages and of their products: what any mean of a resistive unit follows from
/// while the same of its thyristors conduct.
struct NodeMoments {
  std::array<double, 3> volts{};
  std::array<double, 6> products{};  ///< 11, 22, 33, 12, 23, 31
  double length = 0.0;

  /// Adds a stretch on which the voltages go straight from one to the other.
  void add(double length_rad, const std::array<double, 3>& from_V, const std::array<double, 3>& to_V);
  [[nodiscard]] double mean(const Form& form) const;
  [[nodiscard]] double product(const Form& a, const Form& b) const;
  /// Of node voltage and form.
  [[nodiscard]] double product(std::size_t node, const Form& form) const;
};
NodeMoments operator-(const NodeMoments& a, const NodeMoments& b);

/// Integrals over one cycle, in radians times the quantity, of one unit.
class UnitSums {
 public:
  /// A stretch in which everything is a sine and a constant.
  void add_stretch(const UnitCircuit& unit, const NodeWaves& nodes, const SineMoments::Angle& from,
                   const SineMoments::Angle& to);
  /// A step whose both ends are known, by the trapezoidal rule.
  void add_step(double length_rad, const UnitValues& from, const UnitValues& to,
                const std::array<double, 3>& from_nodes_V, const std::array<double, 3>& to_nodes_V);
  /// A time in which the same thyristors conducted, from the integrals of the busbar's voltages.
  void add_moments(const UnitCircuit& unit, const NodeMoments& moments);
  void add_peaks(const std::array<double, 3>& pair_A);
  void fill(const UnitCircuit& unit, LoadResult& result) const;

 private:
  std::array<double, 3> leg_square_V_{}, leg_square_A_{}, leg_power_W_{}, element_W_{};
  std::array<double, 3> pair_absolute_A_{}, pair_A_{}, pair_peak_A_{};
  std::array<double, 3> line_square_A_{}, line_power_W_{};
  double neutral_square_A_ = 0.0;
};

/// Integrals over one cycle of the busbar and of the supply's own lines.
struct SupplySums {
  std::array<double, 3> node_square_V{}, line_square_V{}, line_square_A{};
  double neutral_square_A = 0.0;
  void fill(NetworkResult& result) const;
};

/// Writes the samples of one unit's cycle, from its begin on.
class WaveWriter {
 public:
  explicit WaveWriter(Waves& waves) : waves_(&waves) {}
  /// Those up to here that have not been written yet.
  void stretch(const UnitCircuit& unit, const NodeWaves& nodes, double to_rad);
  void step(double from_rad, double to_rad, const UnitValues& from, const UnitValues& to,
            const std::array<double, 3>& from_nodes_V, const std::array<double, 3>& to_nodes_V);

 private:
  [[nodiscard]] bool next_before(double rad) const;
  void write(const UnitValues& values, const std::array<double, 3>& nodes_V);
  Waves* waves_;
  std::size_t next_ = 0;
};

/// Adds up the lines of units that were solved one by one on a supply without impedance.
void add_lines(const std::vector<const std::vector<LineStretch>*>& units, SupplySums& sums);

}  // namespace emberline::plant
