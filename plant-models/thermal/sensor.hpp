#pragma once

#include <array>
#include <chrono>
#include <cstddef>
#include <deque>
#include <vector>

namespace emberline::plant {

/// A temperature over a stretch of time: the cubic through both end values with both end slopes (Hermite).
struct Stretch {
  std::chrono::nanoseconds length{};  ///< above 0
  double start_degC = 0.0;
  double start_slope_K_per_s = 0.0;
  double end_degC = 0.0;
  double end_slope_K_per_s = 0.0;

  /// Its value at an instant counted from its start.
  [[nodiscard]] double at(std::chrono::nanoseconds time) const;
  /// The same cubic between two instants counted from its start. Exact, as a part of a cubic is a cubic.
  [[nodiscard]] Stretch part(std::chrono::nanoseconds from, std::chrono::nanoseconds to) const;
};

/// A first-order lag, tau dy/dt = u - y, moved on exactly over stretches of a cubic u.
class FirstOrderLag {
 public:
  /// `time_constant` 0: y follows u at once.
  FirstOrderLag(std::chrono::nanoseconds time_constant, double start_degC);
  void advance(const Stretch& input);
  [[nodiscard]] double output_degC() const { return output_degC_; }
  void set_output(double output_degC) { output_degC_ = output_degC; }

 private:
  /// y after a stretch = kept y + start_value u0 + start_slope u0' + end_value u1 + end_slope u1'.
  struct Weights {
    std::chrono::nanoseconds length{};
    double kept = 0.0;
    double start_value = 0.0;
    double start_slope = 0.0;
    double end_value = 0.0;
    double end_slope = 0.0;
  };
  [[nodiscard]] Weights weights_for(std::chrono::nanoseconds length) const;

  double time_constant_s_;
  double output_degC_;
  std::array<Weights, 4> known_{};  ///< steps repeat: the weights of the last few lengths
  std::size_t oldest_ = 0;
};

/// A sensor: what it shows now is the temperature of `dead_time` ago, through a first-order lag. Before the
/// start the temperature was constant.
class Sensor {
 public:
  struct Parameters {
    std::chrono::nanoseconds lag;        ///< time constant, 0 or more
    std::chrono::nanoseconds dead_time;  ///< 0 or more
    double start_degC;
  };
  explicit Sensor(const Parameters& parameters);
  /// The temperature's course since the last call.
  void advance(const Stretch& course);
  [[nodiscard]] double measured_degC() const { return lag_.output_degC(); }

  /// What it shows, and what it has yet to show.
  struct State {
    double shown_degC = 20.0;
    std::vector<Stretch> on_its_way;  ///< oldest first, together as long as the dead time
  };
  /// What is on its way may be told in longer stretches than it came in; they differ by less than 1 uK.
  [[nodiscard]] State state() const;
  /// Goes on from there. What is on its way has to be as long as the dead time.
  void begin_at(const State& state);

 private:
  FirstOrderLag lag_;
  std::deque<Stretch> on_its_way_;         ///< not shown yet; together as long as the dead time
  std::chrono::nanoseconds front_used_{};  ///< of the first one
};

}  // namespace emberline::plant
