#pragma once

namespace emberline::plant {

/// Integrals over a stretch of angle from which the mean square of anything of the form
/// a sin x + b cos x + c follows in closed form.
struct SineMoments {
  struct Angle {
    double rad;
    double sine;
    double cosine;
  };

  SineMoments(const Angle& from, const Angle& to)
      : length(to.rad - from.rad), sine(from.cosine - to.cosine), cosine(to.sine - from.sine) {
    const double half = 0.5 * (to.sine * to.cosine - from.sine * from.cosine);
    sine_sine = 0.5 * length - half;
    cosine_cosine = 0.5 * length + half;
    sine_cosine = 0.5 * (to.sine * to.sine - from.sine * from.sine);
  }

  /// Integral of (a sin x + b cos x + c)^2.
  [[nodiscard]] double square(double a, double b, double c) const {
    return a * a * sine_sine + b * b * cosine_cosine + c * c * length +
           2.0 * (a * b * sine_cosine + a * c * sine + b * c * cosine);
  }
  /// Integral of (a sin x + c)^2.
  [[nodiscard]] double square(double a, double c) const {
    return a * a * sine_sine + c * (c * length + 2.0 * a * sine);
  }

  double length;
  double sine;
  double cosine;
  double sine_sine;
  double cosine_cosine;
  double sine_cosine;
};

}  // namespace emberline::plant
