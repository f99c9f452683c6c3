#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "plant-models/electrical/circuit_sums.hpp"
#include "plant-models/electrical/circuit_unit.hpp"

namespace emberline::plant {

/// Resistance and inductance of the source, in each line.
struct SourceImpedance {
  double resistance_ohm = 0.0;
  double inductance_H = 0.0;
  [[nodiscard]] bool none() const { return resistance_ohm == 0.0 && inductance_H == 0.0; }
};

/// What the source's inductance carries from one cycle to the next.
struct SourceState {
  std::array<double, 3> current_A{}, voltage_V{};
};

/// One mains cycle of units with inductances or transformers, or behind a source with inductance: in steps of
/// half a degree by the trapezoidal rule, which are cut where a gate is switched and where a current or
/// voltage passes its zero. Behind every cut two backward Euler steps of no length give the voltages that
/// follow, so that nothing of what was before rings on; where something may settle faster than a step, short
/// steps follow that grow. Error of second order: some 1e-5.
class SteppedCircuit {
 public:
  /// The units' begin_cycle() has been called; afterwards their state() is that at the end of the cycle, and
  /// `state` that of the source.
  void solve(const SourceWaves& source, const SourceImpedance& impedance, std::span<UnitCircuit* const> units,
             SourceState& state, bool with_lines);

  /// How often in all cycles so far a bound on turns was reached that keeps a slip of ours from never ending:
  /// 0.
  [[nodiscard]] std::uint64_t gave_up() const { return gave_up_; }
  [[nodiscard]] const std::vector<UnitSums>& sums() const { return sums_; }
  [[nodiscard]] const SupplySums& supply() const { return supply_; }
  [[nodiscard]] const std::vector<LineStretch>& lines() const { return lines_; }
  void write_waves(std::size_t unit, Waves* waves) {
    written_unit_ = unit;
    writer_.reset();
    if (waves != nullptr) writer_.emplace(*waves);
  }

 private:
  using Nodes = std::array<double, 3>;
  struct Crossing {
    bool found = false;
    std::size_t unit = 0;
    UnitCircuit::Watched watched;
    double share = 1.0;  ///< of the step, where it lies
    double value = 0.0;
  };

  [[nodiscard]] Nodes source_at(double rad) const;
  void set_step(double step_s, Branch::Rule rule);
  void set_source_step(double step_s, bool trapezoidal);
  void find_nodes(const Nodes& source_V);
  void try_step(double to_rad, Branch::Rule rule, double step_s);
  void settle(double at_rad);
  void note_values();
  void note_source(double at_rad);
  void note_watched();
  [[nodiscard]] Crossing first_crossing();
  [[nodiscard]] double next_command(double after_rad) const;
  double step(double from_rad, double to_rad);
  double approach(double from_rad, double to_rad, Crossing& crossing);
  [[nodiscard]] double value_of(const Crossing& crossing) const;
  void commit(double from_rad, double to_rad);
  void note_lines(double from_rad, double to_rad, const std::array<double, 3>& from_line,
                  const std::array<double, 3>& to_line);

  SourceWaves source_;
  SourceImpedance impedance_;
  SourceState* source_state_ = nullptr;
  bool coupled_ = false;
  std::span<UnitCircuit* const> units_;

  std::array<double, 3> source_S_{}, source_A_{};  ///< companion model of each line
  bool fast_ = false;                              ///< something in it may settle faster than a step
  std::size_t since_cut_ = 0;
  bool cuts_left_ = true;
  Branch::Rule rule_ = Branch::Rule::trapezoidal;
  double next_command_rad_ = 0.0;
  Nodes nodes_V_{};  ///< at the end of the step that was tried
  // At the begin of the next step:
  Nodes from_nodes_V_{};
  std::vector<UnitValues> from_values_;
  std::vector<double> from_watched_, to_watched_;
  std::vector<UnitValues> to_values_;

  std::uint64_t gave_up_ = 0;
  std::vector<UnitSums> sums_;
  SupplySums supply_;
  bool with_lines_ = false;
  std::vector<LineStretch> lines_;
  std::size_t written_unit_ = 0;
  std::optional<WaveWriter> writer_;
};

}  // namespace emberline::plant
