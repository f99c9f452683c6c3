#include "plant-models/electrical/circuit_forms.hpp"

#include <numbers>

namespace emberline::plant {

double first_zero(const SineWave& wave, double after_rad, double before_rad) {
  constexpr double kTurn = 2.0 * std::numbers::pi;
  const double amplitude = std::sqrt(wave.sine * wave.sine + wave.cosine * wave.cosine);
  if (!(std::abs(wave.constant) < amplitude)) return before_rad;
  const double phase = std::atan2(wave.cosine, wave.sine);  // amplitude sin(x + phase) = -constant
  const double angle = std::asin(-wave.constant / amplitude);
  double first = before_rad;
  for (const double root : {angle - phase, std::numbers::pi - angle - phase}) {
    const double x = root - kTurn * std::floor((root - after_rad) / kTurn);
    if (x > after_rad && x < first) first = x;
  }
  return first;
}

}  // namespace emberline::plant
