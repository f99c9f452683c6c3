#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "plant-models/electrical/circuit_sums.hpp"
#include "plant-models/electrical/circuit_unit.hpp"

namespace emberline::plant {

/// One mains cycle of units whose loads are resistances, each in whatever state its thyristors, fuses and
/// elements are, behind a source that is stiff or resistive. As long as the same thyristors conduct, every
/// voltage and current is sine, cosine and constant; so the cycle is passed in stretches from one switching
/// instant to the next, which are found in closed form, as are all integrals.
class ResistiveCircuit {
 public:
  /// The units' begin_cycle() has been called; afterwards their state() is that at the end of the cycle.
  void solve(const SourceWaves& source, double source_ohm, std::span<UnitCircuit* const> units);

  /// How often in all cycles so far a bound on turns was reached that keeps a slip of ours from never ending:
  /// 0.
  [[nodiscard]] std::uint64_t gave_up() const { return gave_up_; }
  [[nodiscard]] const std::vector<UnitSums>& sums() const { return sums_; }
  [[nodiscard]] const SupplySums& supply() const { return supply_; }
  /// The lines' currents of all units together, stretch by stretch.
  [[nodiscard]] const std::vector<LineStretch>& lines() const { return lines_; }
  /// Also writes the samples of one unit while it solves.
  void write_waves(std::size_t unit, Waves* waves) {
    written_unit_ = unit;
    writer_.reset();
    if (waves != nullptr) writer_.emplace(*waves);
  }

 private:
  [[nodiscard]] std::array<double, 3> nodes_at(double rad) const;
  void find_nodes();
  void settle(double at_rad);
  [[nodiscard]] double next_change(double after_rad) const;
  void pass(const SineMoments::Angle& from, const SineMoments::Angle& to);

  SourceWaves source_;
  double source_ohm_ = 0.0;
  bool coupled_ = false;
  std::span<UnitCircuit* const> units_;
  NodeWaves nodes_{};
  std::uint64_t gave_up_ = 0;
  std::vector<UnitSums> sums_;
  SupplySums supply_;
  std::vector<LineStretch> lines_;
  std::size_t written_unit_ = 0;
  std::optional<WaveWriter> writer_;
};

}  // namespace emberline::plant
