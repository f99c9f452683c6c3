#include "plant-models/electrical/phase_control.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace emberline::plant {
namespace {

constexpr double kPi = std::numbers::pi;

/// Share of a half-wave's energy between its zero and x radians: (x - sin x cos x) / pi. Both ends of the
/// characteristic are this function, and its series keeps all digits where the difference would lose them.
double energy_share(double x) {
  const double y = 2.0 * x;
  if (y > 0.5) return (y - std::sin(y)) / (2.0 * kPi);
  const double square = y * y;
  const double series =
      1.0 - square / 20.0 * (1.0 - square / 42.0 * (1.0 - square / 72.0 * (1.0 - square / 110.0)));
  return y * square / 6.0 * series / (2.0 * kPi);
}

/// The x in 0 to pi/2 with energy_share(x) = share, for a share of 0 to 1/2: Newton inside a bracket.
double angle_of_energy_share(double share) {
  double low = 0.0;
  double high = 0.5 * kPi;
  // energy_share(x) is nearly 2 x^3 / (3 pi) and never more.
  double x = std::clamp(std::cbrt(1.5 * kPi * share), low, high);
  for (int round = 0; round < 60; ++round) {
    const double miss = energy_share(x) - share;
    (miss > 0.0 ? high : low) = x;
    const double sine = std::sin(x);
    double next = x - miss * kPi / (2.0 * sine * sine);
    if (!(next >= low && next <= high)) next = 0.5 * (low + high);
    const double moved = std::abs(next - x);
    x = next;
    if (moved <= 1e-15 * x) break;
  }
  return x;
}

}  // namespace

double power_share_of_angle(double alpha_deg) {
  const double alpha = std::clamp(alpha_deg, 0.0, 180.0) * kPi / 180.0;
  return alpha < 0.5 * kPi ? 1.0 - energy_share(alpha) : energy_share(kPi - alpha);
}

double angle_of_power_share(double share) {
  if (!(share > 0.0)) return 180.0;
  if (share >= 1.0) return 0.0;
  if (share < 0.5) return 180.0 - angle_of_energy_share(share) * 180.0 / kPi;
  return angle_of_energy_share(1.0 - share) * 180.0 / kPi;
}

}  // namespace emberline::plant
