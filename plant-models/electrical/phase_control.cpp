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

/// The three-wire law of the header.
double three_wire_share(double alpha_deg) {
  if (alpha_deg >= 150.0) return 0.0;
  const double a = std::max(alpha_deg, 0.0) * kPi / 180.0;
  const double sine = std::sin(2.0 * a);
  const double cosine = std::numbers::sqrt3 * std::cos(2.0 * a);
  if (alpha_deg <= 60.0) return 1.0 - 1.5 * a / kPi + 0.75 * sine / kPi;
  if (alpha_deg <= 90.0) return 0.5 + 0.375 / kPi * (3.0 * sine + cosine);
  return std::max(0.0, 1.25 - 1.5 * a / kPi + 0.375 / kPi * (sine + cosine));
}

bool three_wire(Connection connection) {
  return connection == Connection::star_3_wire || connection == Connection::delta;
}

}  // namespace

double power_share_of_angle(double alpha_deg, Connection connection) {
  return three_wire(connection) ? three_wire_share(alpha_deg) : power_share_of_angle(alpha_deg);
}

double angle_of_power_share(double share, Connection connection) {
  if (!three_wire(connection)) return angle_of_power_share(share);
  if (!(share > 0.0)) return 180.0;
  if (share >= 1.0) return 0.0;
  double low = 0.0;
  double high = 150.0;
  // The law falls all the way, and halving 150 degrees 60 times leaves nothing.
  for (int round = 0; round < 60; ++round) {
    const double middle = 0.5 * (low + high);
    (three_wire_share(middle) > share ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

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
