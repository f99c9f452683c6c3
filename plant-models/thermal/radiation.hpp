#pragma once

namespace emberline::plant {

/// Stefan and Boltzmann's constant, 2 pi^5 k^4 / (15 h^3 c^2): CODATA 2018, exact in the SI of 2019.
inline constexpr double kStefanBoltzmann_W_per_m2K4 = 5.670374419184e-8;
inline constexpr double kZeroCelsius_K = 273.15;

/// a^4 - b^4 of absolute temperatures, in K^4. As a product it keeps its digits when both are near each
/// other.
constexpr double fourth_powers_apart(double a_degC, double b_degC) {
  const double a_K = a_degC + kZeroCelsius_K;
  const double b_K = b_degC + kZeroCelsius_K;
  return (a_degC - b_degC) * (a_K + b_K) * (a_K * a_K + b_K * b_K);
}

}  // namespace emberline::plant
