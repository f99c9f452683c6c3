#include "plant-models/electrical/full_conduction.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <limits>
#include <numbers>
#include <utility>

namespace emberline::plant {
namespace {
using Complex = std::complex<double>;
using Matrix = std::array<std::array<Complex, 3>, 3>;
constexpr std::size_t kNeutral = 3;
/// In place of the admittance of a source without impedance, and of a line that is open.
constexpr double kStiff_S = 1e9;
constexpr double kOpen_S = 1e-12;

/// Of one leg, at the primary.
Complex leg_admittance(const LoadParameters& load, std::size_t leg, double ohm, double rad_per_s) {
  const Complex inner =
      std::isfinite(ohm) ? 1.0 / Complex(ohm, rad_per_s * load.inductance_H[leg]) : Complex(0.0);
  if (!load.transformer) return inner;
  const auto& t = *load.transformer;
  const Complex shunt =
      inner / (t.ratio * t.ratio) + 1.0 / Complex(0.0, rad_per_s * t.magnetising_inductance_H);
  return 1.0 / (Complex(t.winding_resistance_ohm, rad_per_s * t.leakage_inductance_H) + 1.0 / shunt);
}

/// Of one leg with this voltage and current at its primary: what its elements turn into heat.
double element_power_W(const LoadParameters& load, std::size_t leg, double ohm, double rad_per_s,
                       Complex leg_V, Complex leg_A) {
  if (!load.transformer) return (leg_V * std::conj(leg_A)).real();
  if (!std::isfinite(ohm)) return 0.0;
  const auto& t = *load.transformer;
  const Complex inner_V =
      leg_V - leg_A * Complex(t.winding_resistance_ohm, rad_per_s * t.leakage_inductance_H);
  const Complex secondary_V = inner_V / t.ratio;
  return std::norm(secondary_V / Complex(ohm, rad_per_s * load.inductance_H[leg])) * ohm;
}

/// How the legs hang between nodes: leg l from `from[l]` to `to[l]`.
struct Legs {
  std::array<std::size_t, 3> from{0, 1, 2};
  std::array<std::size_t, 3> to{kNeutral, kNeutral, kNeutral};
};

Legs legs_of(const SupplyParameters& supply, const LoadParameters& load) {
  Legs legs;
  if (load.connection == Connection::delta || load.connection == Connection::open_delta) legs.to = {1, 2, 0};
  if (load.connection == Connection::single_phase && supply.system == System::three_phase) {
    legs.from[0] = static_cast<std::size_t>(load.across) % 3;
    if (load.across >= Across::l1_l2) legs.to[0] = (legs.from[0] + 1) % 3;
  }
  return legs;
}

/// Gaussian elimination with pivoting.
std::array<Complex, 3> solve(Matrix matrix, std::array<Complex, 3> right) {
  for (std::size_t k = 0; k < 3; ++k) {
    std::size_t best = k;
    for (std::size_t r = k + 1; r < 3; ++r)
      if (std::abs(matrix[r][k]) > std::abs(matrix[best][k])) best = r;
    std::swap(matrix[k], matrix[best]);
    std::swap(right[k], right[best]);
    for (std::size_t r = k + 1; r < 3; ++r) {
      const Complex factor = matrix[r][k] / matrix[k][k];
      for (std::size_t c = k; c < 3; ++c) matrix[r][c] -= factor * matrix[k][c];
      right[r] -= factor * right[k];
    }
  }
  for (std::size_t k = 3; k-- > 0;) {
    for (std::size_t c = k + 1; c < 3; ++c) right[k] -= matrix[k][c] * right[c];
    right[k] /= matrix[k][k];
  }
  return right;
}

struct Solution {
  std::array<Complex, 3> node, leg_V, leg_A, line_A;
};

/// The three busbar voltages by the sums of the currents at each node, and what follows from them. A fuse
/// that is open takes its leg out, or in three-wire loads its line.
class Phasors {
 public:
  Phasors(const SupplyParameters& supply, const LoadParameters& load, const SupplyState& state,
          const Conduction& command)
      : legs_(legs_of(supply, load)), star_(load.connection == Connection::star_3_wire) {
    const double rad_per_s = 2.0 * std::numbers::pi * state.frequency_Hz;
    const Complex source_ohm(supply.resistance_ohm, rad_per_s * supply.inductance_H);
    source_S_ = std::abs(source_ohm) > 0.0 ? 1.0 / source_ohm : Complex(kStiff_S);
    for (std::size_t l = 0; l < load.legs(); ++l) {
      const double ohm = leg_resistance_ohm(load, l, command.element_degC, command.legs[l]);
      ohm_[l] = ohm;
      if (command.legs[l].fuse_open && !load.three_wire()) continue;
      leg_S_[l] = leg_admittance(load, l, ohm, rad_per_s);
    }
    direct_[2] = load.controlled_legs == 2;
    if (load.three_wire())
      for (std::size_t p = 0; p < 3; ++p) cut_[p] = command.legs[p].fuse_open;
  }

  [[nodiscard]] Solution solved(const SourceWaves& source, double kept_share,
                                const std::array<double, 3>& shunt_S) const {
    // Unknowns are the ends of the lines at the load; what is cut off hangs on nothing but kOpen_S.
    Matrix matrix{};
    std::array<Complex, 3> right{};
    for (std::size_t p = 0; p < 3; ++p) {
      const bool open = p >= source.lines || source.open[p] || cut_[p];
      const Complex feed_S = open ? Complex(kOpen_S) : source_S_;
      matrix[p][p] += feed_S + (open ? 0.0 : shunt_S[p]);
      const Complex source_V(source.line[p].sine, source.line[p].cosine);
      if (!open) right[p] = feed_S * source_V * (direct_[p] ? 1.0 : kept_share) / std::numbers::sqrt2;
    }
    add_load(matrix);
    Solution found;
    found.node = solve(matrix, right);
    find_legs(found);
    return found;
  }
  [[nodiscard]] double ohm(std::size_t leg) const { return ohm_[leg]; }

 private:
  [[nodiscard]] Complex sum_S() const { return leg_S_[0] + leg_S_[1] + leg_S_[2]; }

  void add_load(Matrix& matrix) const {
    for (std::size_t l = 0; l < 3; ++l) {
      const std::size_t a = legs_.from[l];
      const std::size_t b = legs_.to[l];
      matrix[a][a] += leg_S_[l];
      if (b != kNeutral) {
        matrix[b][b] += leg_S_[l];
        matrix[a][b] -= leg_S_[l];
        matrix[b][a] -= leg_S_[l];
      }
      if (!star_ || std::abs(sum_S()) == 0.0) continue;
      for (std::size_t k = 0; k < 3; ++k) matrix[a][k] -= leg_S_[l] * leg_S_[k] / sum_S();
    }
  }

  void find_legs(Solution& found) const {
    Complex star_V = 0.0;
    if (star_ && std::abs(sum_S()) > 0.0)
      for (std::size_t l = 0; l < 3; ++l) star_V += leg_S_[l] * found.node[l] / sum_S();
    found.line_A = {};
    for (std::size_t l = 0; l < 3; ++l) {
      const std::size_t b = legs_.to[l];
      found.leg_V[l] = found.node[legs_.from[l]] - (b == kNeutral ? star_V : found.node[b]);
      found.leg_A[l] = leg_S_[l] * found.leg_V[l];
      found.line_A[legs_.from[l]] += found.leg_A[l];
      if (b != kNeutral) found.line_A[b] -= found.leg_A[l];
    }
  }

  Legs legs_;
  bool star_;
  Complex source_S_;
  std::array<Complex, 3> leg_S_{};
  std::array<double, 3> ohm_{};
  std::array<bool, 3> cut_{};
  std::array<bool, 3> direct_{};  ///< without thyristors
};
}  // namespace

LoadResult full_conduction_by_phasors(const SupplyParameters& supply, const LoadParameters& load,
                                      const SupplyState& supply_state, const Conduction& command,
                                      const std::array<double, 3>& shunt_S) {
  const bool across_lines = load.connection == Connection::open_delta ||
                            (load.connection == Connection::single_phase && load.across >= Across::l1_l2);
  const double root = supply.system == System::three_phase && !across_lines ? std::numbers::sqrt3 : 1.0;
  const double loss_V = 2.0 * std::numbers::sqrt2 / std::numbers::pi * load.thyristor_drop_V;
  const double kept_share = std::max(0.0, 1.0 - loss_V * root / supply.voltage_V);
  const Phasors phasors(supply, load, supply_state, command);
  const Solution found = phasors.solved(source_waves(supply, supply_state), kept_share, shunt_S);
  LoadResult result;
  for (std::size_t l = 0; l < load.legs(); ++l) {
    result.legs[l] = {std::abs(found.leg_V[l]), std::abs(found.leg_A[l]),
                      (found.leg_V[l] * std::conj(found.leg_A[l])).real()};
    result.element_W[l] =
        element_power_W(load, l, phasors.ohm(l), 2.0 * std::numbers::pi * supply_state.frequency_Hz,
                        found.leg_V[l], found.leg_A[l]);
    result.leg_resistance_ohm[l] = phasors.ohm(l);
  }
  for (std::size_t p = 0; p < 3; ++p) {
    result.line_current_A[p] = std::abs(found.line_A[p]);
    result.line_power_W[p] = (found.node[p] * std::conj(found.line_A[p])).real();
  }
  return result;
}

}  // namespace emberline::plant
