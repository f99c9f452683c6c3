#pragma once

#include "sim/base/sim_time.hpp"

namespace emberline::rehearsal {

/// A sampled proportional-integral controller in position form with rectangular integration:
///     u_k = K (e_k + (T / Ti) (e_1 + ... + e_k)),   held within 0 and 1
/// (Seborg, Edgar, Mellichamp: Process Dynamics and Control, digital versions of PID controllers; formula
/// from memory). The sum starts at 0 and does not take in an error that would push the output further
/// beyond the end it stands at (no wind-up).
class PiLoop {
 public:
  struct Parameters {
    double gain = 0.0;         ///< K, fraction per unit of the error
    Duration period{};         ///< T, the sampling period as programmed
    Duration integral_time{};  ///< Ti; 0: no integral part
  };
  explicit PiLoop(const Parameters& parameters) : parameters_(parameters) {}

  /// The output (0 to 1) for the error of this sample.
  double next(double error) {
    double step = 0.0;
    if (parameters_.integral_time > Duration::zero()) {
      step =
          parameters_.gain * error * to_seconds(parameters_.period) / to_seconds(parameters_.integral_time);
    }
    const double free = parameters_.gain * error + integral_ + step;
    const bool pushes_out = (free > 1.0 && step > 0.0) || (free < 0.0 && step < 0.0);
    if (!pushes_out) integral_ += step;
    output_ = free > 1.0 ? 1.0 : free < 0.0 ? 0.0 : free;
    return output_;
  }
  [[nodiscard]] double last_output() const { return output_; }

 private:
  Parameters parameters_;
  double integral_ = 0.0;
  double output_ = 0.0;
};

}  // namespace emberline::rehearsal
