#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <vector>

/// A second, slow way to three-wire loads behind thyristors in the lines: samples of a cycle, in each of them
/// the node equations of the whole circuit by Gaussian elimination, once for every combination of conducting
/// thyristors until one agrees with itself. It shares no formula with the models.
namespace enumerated {

struct Load {
  bool delta;
  std::array<double, 3> leg_ohm;
  double drop_V;
  double firing_deg;
};

struct Means {
  std::array<double, 3> leg{}, line{};  ///< mean squares, A^2
};

inline std::vector<double> solve(std::vector<std::vector<double>> a, std::vector<double> b) {
  const std::size_t n = b.size();
  for (std::size_t k = 0; k < n; ++k) {
    std::size_t best = k;
    for (std::size_t r = k + 1; r < n; ++r)
      if (std::abs(a[r][k]) > std::abs(a[best][k])) best = r;
    std::swap(a[k], a[best]);
    std::swap(b[k], b[best]);
    for (std::size_t r = k + 1; r < n; ++r) {
      const double f = a[r][k] / a[k][k];
      if (f == 0.0) continue;
      for (std::size_t c = k; c < n; ++c) a[r][c] -= f * a[k][c];
      b[r] -= f * b[k];
    }
  }
  for (std::size_t k = n; k-- > 0;) {
    for (std::size_t c = k + 1; c < n; ++c) b[k] -= a[k][c] * b[c];
    b[k] /= a[k][k];
  }
  return b;
}

class Network {
 public:
  Network(double peak_V, double source_ohm, std::vector<Load> loads)
      : peak_V_(peak_V), source_ohm_(source_ohm), loads_(std::move(loads)), state_(3 * loads_.size(), 0) {}

  /// Two cycles, the second counts.
  std::vector<Means> means(int samples) {
    std::vector<Means> sums(loads_.size());
    for (int sample = 0; sample < 2 * samples; ++sample) {
      at(360.0 * (sample % samples + 0.5) / samples);
      for (std::size_t u = 0; sample >= samples && u < loads_.size(); ++u)
        for (std::size_t k = 0; k < 3; ++k) {
          const double next = voltage_[inner(u, (k + 1) % 3)];
          const double end = loads_[u].delta ? next : voltage_[star(u)];
          const double leg_A = (voltage_[inner(u, k)] - end) / loads_[u].leg_ohm[k];
          sums[u].leg[k] += leg_A * leg_A / samples;
          sums[u].line[k] += current_[3 * u + k] * current_[3 * u + k] / samples;
        }
    }
    return sums;
  }

 private:
  // Nodes: the busbar 0 to 2, and four for each load: the inner ends of its lines and the star point.
  static std::size_t inner(std::size_t load, std::size_t k) { return 3 + 4 * load + k; }
  static std::size_t star(std::size_t load) { return 3 + 4 * load + 3; }

  bool gated(std::size_t load, std::size_t k, int direction, double deg) const {
    double since = deg - 120.0 * static_cast<double>(k) - (direction > 0 ? 0.0 : 180.0);
    since -= 360.0 * std::floor(since / 360.0);
    const double from = loads_[load].firing_deg;
    return since >= from && since < std::max(180.0, from + 120.0);
  }

  void at(double deg) {
    if (agrees(state_, deg)) return;
    std::vector<int> tried(state_.size(), -1);
    std::vector<int> found;
    std::size_t least = tried.size() + 1;
    for (;;) {  // of those that agree the one that changes least
      std::size_t changes = 0;
      for (std::size_t i = 0; i < tried.size(); ++i) changes += tried[i] != state_[i];
      if (changes < least && agrees(tried, deg)) {
        least = changes;
        found = tried;
      }
      std::size_t digit = 0;
      while (digit < tried.size() && ++tried[digit] == 2) tried[digit++] = -1;
      if (digit == tried.size()) break;
    }
    if (found.empty()) return;
    agrees(found, deg);
    state_ = found;
  }

  bool agrees(const std::vector<int>& tried, double deg) {
    for (std::size_t u = 0; u < loads_.size(); ++u)
      for (std::size_t k = 0; k < 3; ++k) {
        const int s = tried[3 * u + k];
        if (s != 0 && state_[3 * u + k] != s && !gated(u, k, s, deg)) return false;
      }
    solve_nodes(tried, deg);
    for (std::size_t u = 0; u < loads_.size(); ++u)
      for (std::size_t k = 0; k < 3; ++k) {
        const std::size_t i = 3 * u + k;
        const double across = voltage_[k] - voltage_[inner(u, k)];
        if (tried[i] != 0) {
          // What no gate holds and hardly carries anything has gone out.
          const bool held = gated(u, k, tried[i], deg);
          if (tried[i] * current_[i] < (held ? -1e-6 : 1e-3)) return false;
          continue;
        }
        for (const int s : {1, -1})
          if (gated(u, k, s, deg) && s * across > loads_[u].drop_V + 1e-3) return false;
      }
    return true;
  }

  void solve_nodes(const std::vector<int>& tried, double deg) {
    const std::size_t n = 3 + 4 * loads_.size();
    std::vector<std::vector<double>> a(n, std::vector<double>(n, 0.0));
    std::vector<double> b(n, 0.0);
    const auto join = [&](std::size_t p, std::size_t q, double siemens, double source_V) {
      a[p][p] += siemens;
      a[q][q] += siemens;
      a[p][q] -= siemens;
      a[q][p] -= siemens;
      b[p] += siemens * source_V;
      b[q] -= siemens * source_V;
    };
    for (std::size_t p = 0; p < 3; ++p) {
      a[p][p] += 1.0 / source_ohm_;
      b[p] +=
          peak_V_ * std::sin((deg - 120.0 * static_cast<double>(p)) * std::numbers::pi / 180.0) / source_ohm_;
    }
    constexpr double kClosed_S = 1e5;
    for (std::size_t u = 0; u < loads_.size(); ++u) {
      if (loads_[u].delta) a[star(u)][star(u)] = 1.0;
      for (std::size_t k = 0; k < 3; ++k) {
        const int s = tried[3 * u + k];
        join(k, inner(u, k), s != 0 ? kClosed_S : 1e-8, s * loads_[u].drop_V);
        join(inner(u, k), loads_[u].delta ? inner(u, (k + 1) % 3) : star(u), 1.0 / loads_[u].leg_ohm[k], 0.0);
      }
    }
    voltage_ = solve(a, b);
    current_.assign(tried.size(), 0.0);
    for (std::size_t u = 0; u < loads_.size(); ++u)
      for (std::size_t k = 0; k < 3; ++k) {
        const int s = tried[3 * u + k];
        const double across = voltage_[k] - voltage_[inner(u, k)];
        current_[3 * u + k] = s != 0 ? kClosed_S * (across - s * loads_[u].drop_V) : 1e-8 * across;
      }
  }

  double peak_V_;
  double source_ohm_;
  std::vector<Load> loads_;
  std::vector<int> state_;
  std::vector<double> voltage_;
  std::vector<double> current_;
};

}  // namespace enumerated
