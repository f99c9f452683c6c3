#include <algorithm>
#include <cmath>

#include "plant-models/electrical/circuit_sums.hpp"

namespace emberline::plant {

void NodeMoments::add(double length_rad, const std::array<double, 3>& from_V,
                      const std::array<double, 3>& to_V) {
  constexpr std::array<std::array<std::size_t, 2>, 6> kPairs{
      {{0, 0}, {1, 1}, {2, 2}, {0, 1}, {1, 2}, {2, 0}}};
  for (std::size_t n = 0; n < 3; ++n) volts[n] += 0.5 * length_rad * (from_V[n] + to_V[n]);
  for (std::size_t k = 0; k < 6; ++k) {
    const auto [a, b] = kPairs[k];
    products[k] +=
        length_rad / 6.0 *
        (2.0 * (from_V[a] * from_V[b] + to_V[a] * to_V[b]) + from_V[a] * to_V[b] + to_V[a] * from_V[b]);
  }
  length += length_rad;
}

double NodeMoments::mean(const Form& form) const {
  return form.node[0] * volts[0] + form.node[1] * volts[1] + form.node[2] * volts[2] + form.constant * length;
}

double NodeMoments::product(const Form& a, const Form& b) const {
  const auto& p = a.node;
  const auto& q = b.node;
  return p[0] * q[0] * products[0] + p[1] * q[1] * products[1] + p[2] * q[2] * products[2] +
         (p[0] * q[1] + p[1] * q[0]) * products[3] + (p[1] * q[2] + p[2] * q[1]) * products[4] +
         (p[2] * q[0] + p[0] * q[2]) * products[5] + a.constant * mean(b) + b.constant * mean(a) -
         a.constant * b.constant * length;
}

double NodeMoments::product(std::size_t node, const Form& form) const {
  return product(node_form(node), form);
}

NodeMoments operator-(const NodeMoments& a, const NodeMoments& b) {
  NodeMoments difference = a;
  for (std::size_t n = 0; n < 3; ++n) difference.volts[n] -= b.volts[n];
  for (std::size_t k = 0; k < 6; ++k) difference.products[k] -= b.products[k];
  difference.length -= b.length;
  return difference;
}

void UnitSums::add_moments(const UnitCircuit& unit, const NodeMoments& moments) {
  for (std::size_t l = 0; l < unit.legs; ++l) {
    leg_square_V_[l] += moments.product(unit.leg_V[l], unit.leg_V[l]);
    leg_square_A_[l] += moments.product(unit.leg_A[l], unit.leg_A[l]);
    leg_power_W_[l] += moments.product(unit.leg_V[l], unit.leg_A[l]);
    const double dc = moments.mean(unit.pair_A[l]);
    pair_A_[l] += dc;
    pair_absolute_A_[l] += std::abs(dc);
  }
  for (std::size_t p = 0; p < 3; ++p) {
    line_square_A_[p] += moments.product(unit.line_A[p], unit.line_A[p]);
    line_power_W_[p] += moments.product(p, unit.line_A[p]);
  }
  neutral_square_A_ += moments.product(unit.neutral_A, unit.neutral_A);
}

void UnitSums::add_peaks(const std::array<double, 3>& pair_A) {
  for (std::size_t p = 0; p < 3; ++p) pair_peak_A_[p] = std::max(pair_peak_A_[p], pair_A[p]);
}

}  // namespace emberline::plant
