#pragma once

#include "sim/base/sim_time.hpp"

namespace emberline::rehearsal {

/// A sampled proportional-integral controller in position form with rectangular integration:
///     u_k = K (e_k + (T / Ti) (e_1 + ... + e_k)),   held within its ends, 0 and 1 unless told otherwise
/// (Seborg, Edgar, Mellichamp: Process Dynamics and Control, digital versions of PID controllers; formula
/// from memory). The sum starts at 0 and does not take in an error that would push the output further
/// beyond the end it stands at (no wind-up), unless it is told to wind up: then the sum takes in every error,
/// and only the output is held.
class PiLoop {
 public:
  struct Parameters {
    double gain = 0.0;         ///< K, fraction per unit of the error
    Duration period{};         ///< T, the sampling period as programmed
    Duration integral_time{};  ///< Ti; 0: no integral part
    double at_least = 0.0;     ///< ends of the output
    double at_most = 1.0;
    bool winds_up = false;
  };
  explicit PiLoop(const Parameters& parameters) : parameters_(parameters) {}

  /// The output (within its ends) for the error of this sample.
  double next(double error) {
    double step = 0.0;
    if (parameters_.integral_time > Duration::zero()) {
      step =
          parameters_.gain * error * to_seconds(parameters_.period) / to_seconds(parameters_.integral_time);
    }
    const double low = parameters_.at_least;
    const double high = parameters_.at_most;
    const double free = parameters_.gain * error + integral_ + step;
    const bool pushes_out = (free > high && step > 0.0) || (free < low && step < 0.0);
    if (!pushes_out || parameters_.winds_up) integral_ += step;
    output_ = free > high ? high : free < low ? low : free;
    return output_;
  }
  [[nodiscard]] double last_output() const { return output_; }

 private:
  Parameters parameters_;
  double integral_ = 0.0;
  double output_ = 0.0;
};

}  // namespace emberline::rehearsal
