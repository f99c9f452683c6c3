#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "plant-models/electrical/coupled_phases.hpp"
#include "plant-models/electrical/half_wave.hpp"
#include "plant-models/materials/material.hpp"

namespace emberline::plant {

enum class System { single_phase, three_phase };
/// Star-3-wire, open delta and two controlled legs come with the three-wire networks.
enum class Connection { single_phase, star_4_wire, delta };
enum class Grouping { parallel, series };

struct SupplyParameters {
  System system = System::three_phase;
  double voltage_V = 400.0;     ///< RMS; three-phase: line to line, single-phase: across the supply; above 0
  double frequency_Hz = 50.0;   ///< above 0
  double resistance_ohm = 0.0;  ///< of the source, each phase (single-phase: of the loop), 0 or more
};

/// A balanced resistive load behind one thyristor unit.
struct LoadParameters {
  Connection connection = Connection::single_phase;
  int elements = 1;  ///< per leg, 1 or more
  Grouping grouping = Grouping::parallel;
  const Material* material = nullptr;  ///< never null when used
  double cold_resistance_ohm = 1.0;    ///< of one element at 20 degC, above 0
  double thyristor_drop_V = 1.2;       ///< forward drop while conducting, 0 or more

  /// Resistance of one leg at an element temperature.
  [[nodiscard]] double leg_resistance_ohm(double element_degC) const;
};

/// What one load's power stage does during the mains cycle in question.
struct Conduction {
  bool connected = true;          ///< contactor closed
  double firing_angle_deg = 180;  ///< 0: whole half-waves; 180: off. Delta: 0 or 180 only
  double element_degC = 20.0;
};

/// One leg over one cycle: RMS, RMS, mean.
struct Leg {
  double voltage_V = 0.0;
  double current_A = 0.0;
  double power_W = 0.0;
};

struct LoadResult {
  std::array<Leg, 3> legs{};  ///< of the elements: L1..L3, with delta L12, L23, L31; single-phase: [0] only
  std::array<double, 3> line_current_A{};
  double neutral_current_A = 0.0;  ///< star-4-wire: RMS of the sum of the three line currents
  double leg_resistance_ohm = 0.0;
};

struct NetworkResult {
  std::vector<LoadResult> loads;
  std::array<double, 3>
      supply_voltage_V{};  ///< RMS line-neutral at the busbar, with sag; single-phase: [0] only
};

/// All loads of a bench on one supply, over one mains cycle in steady state. Voltages are sines behind the
/// source's resistance; the sag at the common busbar comes from the waveform: half a cycle is cut at every
/// firing angle and at the thyristors' drop, between cuts the set of conducting legs is fixed, and everything
/// integrates in closed form (HalfWave). A delta load couples the phases when the source has resistance; then
/// all three are solved together (CoupledPhases). The neutral conductor has no resistance.
///
/// A Network keeps scratch memory between calls: use one from one thread only.
class Network {
 public:
  /// Everything wrong with the parameters, in words for the writer of a bench file; empty if possible.
  static std::vector<std::string> problems(const SupplyParameters& supply);
  static std::vector<std::string> problems(const SupplyParameters& supply, const LoadParameters& load);
  Network(const SupplyParameters& supply, std::vector<LoadParameters> loads);

  /// One entry of `states` a load. Results are for the elements (see LoadResult).
  [[nodiscard]] NetworkResult solve(const std::vector<Conduction>& states) const;
  /// The same into a result that is used again and again, without allocating.
  void solve(const std::vector<Conduction>& states, NetworkResult& result) const;
  /// What load `index` would take at full conduction, contactor closed, while the others are as in `states`.
  /// The neutral current is left at 0.
  [[nodiscard]] LoadResult full_conduction(std::size_t index, const std::vector<Conduction>& states) const;
  /// Supply voltage without load across a leg of this load: line-neutral for star, line-line for delta.
  [[nodiscard]] double leg_supply_V(std::size_t index) const;

 private:
  /// Fills resistances and firing angles; load `full`, if any, is taken as fully conducting.
  void prepare(const std::vector<Conduction>& states, std::optional<std::size_t> full) const;
  /// Solves the waveforms of what prepare() left. Returns the mean square at the busbar.
  [[nodiscard]] double solve_waves() const;
  void fill(std::size_t index, LoadResult& result, bool with_neutral) const;
  void fill_delta_alone(std::size_t index, LoadResult& result) const;
  [[nodiscard]] std::size_t phases() const { return supply_.system == System::three_phase ? 3 : 1; }

  SupplyParameters supply_;
  std::vector<LoadParameters> loads_;
  mutable std::vector<double> resistances_ohm_;
  mutable std::vector<HalfWave::Leg> legs_;
  mutable std::vector<CoupledPhases::Load> coupled_loads_;
  mutable bool coupled_ = false;
  mutable HalfWave half_wave_;
  mutable HalfWave delta_wave_;
  mutable CoupledPhases coupled_phases_;
};

}  // namespace emberline::plant
