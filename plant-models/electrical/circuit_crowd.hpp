#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "plant-models/electrical/circuit_stepped.hpp"
#include "plant-models/electrical/circuit_sums.hpp"
#include "plant-models/electrical/circuit_unit.hpp"

namespace emberline::plant {

/// One mains cycle of many resistive units behind one source.
/// The busbar goes in steps of half a degree, straight from one to the next. In the source's inductance a
/// step weighs its begin and its end so that a decay comes out exactly (exponential fitting: W. Liniger, R.
/// A. Willoughby, Efficient integration methods for stiff systems of ordinary differential equations, SIAM J.
/// Numer. Anal. 7, 1970; from memory). A step is cut where much of all is switched at once. The rest is
/// switched inside the step, each unit at its own instant, and the busbar notices with the step's end, which
/// weighs as much of the step as lies behind that, so far as those units are what the busbar has to carry. A
/// unit is only looked at closely when it switches, so a cycle costs little more than asking each of them in
/// each step.
class CrowdCircuit {
 public:
  void solve(const SourceWaves& source, const SourceImpedance& impedance, std::span<UnitCircuit* const> units,
             SourceState& state);

  /// How often in all cycles so far a bound on turns was reached that keeps a slip of ours from never ending:
  /// 0.
  [[nodiscard]] std::uint64_t gave_up() const { return gave_up_; }
  [[nodiscard]] const std::vector<UnitSums>& sums() const { return sums_; }
  [[nodiscard]] const SupplySums& supply() const { return supply_; }
  void write_waves(std::size_t unit, Waves* waves) {
    written_unit_ = unit;
    writer_.reset();
    if (waves != nullptr) writer_.emplace(*waves);
  }

 private:
  using Nodes = std::array<double, 3>;
  struct Member {
    NodeMoments counted;  ///< up to where its sums have been taken
    double next_command_rad = 0.0;
    double share_of_all = 0.0;  ///< its conductance, of that of all that are connected
    std::array<Form, 9> watched{};
    std::array<std::size_t, 9> current_of{};  ///< pair whose current it watches, or 3
    std::array<double, 9> held_A{};
    std::size_t watched_count = 0;
    std::array<double, 3> peak_A{};
  };
  struct Switched {
    std::size_t unit;
    double share;     ///< of the step, of the last time
    double change_S;  ///< of what it takes
  };

  [[nodiscard]] Nodes source_at(double rad) const;
  void add_to_nodes(const UnitCircuit& unit, double sign);
  void find_nodes(double to_rad, double step_s, double switched_share = 0.0, double behind_share = 0.0);
  [[nodiscard]] double taken_by_all() const { return taken_S_[0][0] + taken_S_[1][1] + taken_S_[2][2]; }
  [[nodiscard]] double end_weight(std::size_t p, double step_s) const;
  [[nodiscard]] Nodes drawn() const;
  void note_watched(std::size_t unit);
  [[nodiscard]] double switches_at(std::size_t unit, double from_share, double from_rad, double length);
  void settle_all();
  void switch_unit(std::size_t unit, double from_rad, double length);
  void count(std::size_t unit, const NodeMoments& moments);
  [[nodiscard]] std::optional<double> cut_at(double from_rad, double length);
  double pass(double from_rad, double to_rad, bool may_cut);
  void find_nodes_switched(double to_rad, double step_s, double before_S);

  SourceWaves source_;
  SourceImpedance impedance_;
  SourceState* source_state_ = nullptr;
  std::span<UnitCircuit* const> units_;
  std::vector<Member> members_;
  std::array<std::array<double, 3>, 3> taken_S_{};  ///< what all units take: slope and constant
  std::array<double, 3> taken_A_{};
  std::array<double, 3> source_S_{}, source_A_{};
  Nodes from_V_{}, to_V_{};
  Nodes source_from_V_{}, source_to_V_{};  ///< of the step
  NodeMoments moments_;                    ///< up to the begin of the step
  std::vector<Switched> switched_;
  std::size_t since_cut_ = 0;  ///< short steps begun since the last cut

  std::uint64_t gave_up_ = 0;
  std::vector<UnitSums> sums_;
  SupplySums supply_;
  std::size_t written_unit_ = 0;
  std::optional<WaveWriter> writer_;
};

}  // namespace emberline::plant
