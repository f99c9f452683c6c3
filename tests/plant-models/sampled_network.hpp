#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <vector>

/// A second, slow way to the currents of balanced loads behind one source, to hold the closed forms against:
/// midpoint samples of a half-wave (the other one mirrors it), and in every sample the node voltages by
/// bisection. It shares no formula with the models.
namespace sampled {

struct Load {
  bool delta;
  double conductance_S;
  double drop_V;
  double firing_deg;
};

struct Means {
  double branch = 0.0;   ///< mean square of a branch current, A^2
  double line = 0.0;     ///< of a line current
  double neutral = 0.0;  ///< of the sum of the line currents
};

struct Result {
  double node = 0.0;  ///< mean square, V^2
  std::vector<Means> loads;
};

/// Current through a branch with dead zone `drop`.
inline double through(double volts, const Load& load) {
  if (volts > load.drop_V) return load.conductance_S * (volts - load.drop_V);
  if (volts < -load.drop_V) return load.conductance_S * (volts + load.drop_V);
  return 0.0;
}

/// Current of a star leg whose source voltage has the phase `phase_deg`: only in the direction of the present
/// half-wave, only from the firing angle on.
inline double through_star(double volts, const Load& load, double phase_deg) {
  const double in_cycle_deg = phase_deg - 360.0 * std::floor(phase_deg / 360.0);
  const double in_half_deg = in_cycle_deg < 180.0 ? in_cycle_deg : in_cycle_deg - 180.0;
  if (in_half_deg < load.firing_deg) return 0.0;
  const double current_A = through(volts, load);
  return (in_cycle_deg < 180.0) == (current_A > 0.0) ? current_A : 0.0;
}

/// Source of one phase or three at `peak_V` to neutral. `samples` a half-wave.
inline Result solve(std::size_t phases, double peak_V, double source_ohm, const std::vector<Load>& loads,
                    int samples) {
  Result result;
  result.loads.resize(loads.size());
  std::array<double, 3> node{};
  bool coupled = false;
  for (const auto& load : loads) coupled = coupled || load.delta;
  for (int sample = 0; sample < samples; ++sample) {
    const double at_deg = 180.0 * (sample + 0.5) / samples;
    std::array<double, 3> phase_deg{};
    std::array<double, 3> source{};
    for (std::size_t p = 0; p < phases; ++p) {
      phase_deg[p] = at_deg - 120.0 * static_cast<double>(p);
      source[p] = peak_V * std::sin(phase_deg[p] * std::numbers::pi / 180.0);
    }
    const auto line_of = [&](std::size_t load, std::size_t p) {
      if (!loads[load].delta) return through_star(node[p], loads[load], phase_deg[p]);
      if (loads[load].firing_deg >= 180.0) return 0.0;
      return through(node[p] - node[(p + 1) % 3], loads[load]) -
             through(node[(p + 2) % 3] - node[p], loads[load]);
    };
    // Phase after phase, until none moves any more.
    double last_moved = 0.0;
    for (int round = 0; round < 200; ++round) {
      double moved = 0.0;
      for (std::size_t p = 0; p < phases; ++p) {
        const double before = node[p];
        // What flows only pulls the node towards its neighbours: it stays among the sources.
        double low = coupled ? -peak_V : std::min(0.0, source[p]);
        double high = coupled ? peak_V : std::max(0.0, source[p]);
        if (round > 0) {
          low = std::max(low, before - 2.0 * last_moved);
          high = std::min(high, before + 2.0 * last_moved);
        }
        for (int cut = 0; cut < 60 && high - low > 1e-10; ++cut) {
          node[p] = 0.5 * (low + high);
          double current_A = 0.0;
          for (std::size_t load = 0; load < loads.size(); ++load) current_A += line_of(load, p);
          (node[p] + source_ohm * current_A > source[p] ? high : low) = node[p];
        }
        moved = std::max(moved, std::abs(node[p] - before));
      }
      if (!coupled || moved < 1e-9) break;
      last_moved = moved;
    }
    const double weight = 1.0 / samples;
    result.node += weight * node[0] * node[0];
    for (std::size_t load = 0; load < loads.size(); ++load) {
      Means& means = result.loads[load];
      const double line_A = line_of(load, 0);
      double sum_A = 0.0;
      for (std::size_t p = 0; p < phases; ++p) sum_A += line_of(load, p);
      const bool on = loads[load].firing_deg < 180.0;
      const double branch_A =
          loads[load].delta ? (on ? through(node[0] - node[1], loads[load]) : 0.0) : line_A;
      means.branch += weight * branch_A * branch_A;
      means.line += weight * line_A * line_A;
      means.neutral += weight * sum_A * sum_A;
    }
  }
  return result;
}

}  // namespace sampled
