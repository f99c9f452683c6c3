#pragma once

#include <array>
#include <cmath>
#include <cstddef>

namespace emberline::plant {

/// A voltage or current inside one unit as it hangs on the three busbar voltages: linear, as long as the same
/// thyristors conduct.
struct Form {
  std::array<double, 3> node{};
  double constant = 0.0;

  [[nodiscard]] double at(const std::array<double, 3>& nodes_V) const {
    return node[0] * nodes_V[0] + node[1] * nodes_V[1] + node[2] * nodes_V[2] + constant;
  }
};

inline Form operator+(const Form& a, const Form& b) {
  return {{a.node[0] + b.node[0], a.node[1] + b.node[1], a.node[2] + b.node[2]}, a.constant + b.constant};
}
inline Form operator-(const Form& a, const Form& b) {
  return {{a.node[0] - b.node[0], a.node[1] - b.node[1], a.node[2] - b.node[2]}, a.constant - b.constant};
}
inline Form operator*(const Form& a, double k) {
  return {{a.node[0] * k, a.node[1] * k, a.node[2] * k}, a.constant * k};
}
inline Form operator+(Form a, double constant) {
  a.constant += constant;
  return a;
}
inline Form node_form(std::size_t node) {
  Form form;
  form.node[node] = 1.0;
  return form;
}

/// sine sin x + cosine cos x + constant, x in radians of the mains cycle.
struct SineWave {
  double sine = 0.0;
  double cosine = 0.0;
  double constant = 0.0;

  [[nodiscard]] double at(double sin_x, double cos_x) const {
    return sine * sin_x + cosine * cos_x + constant;
  }
};

using NodeWaves = std::array<SineWave, 3>;

inline SineWave wave_of(const Form& form, const NodeWaves& nodes) {
  SineWave wave{0.0, 0.0, form.constant};
  for (std::size_t n = 0; n < 3; ++n) {
    wave.sine += form.node[n] * nodes[n].sine;
    wave.cosine += form.node[n] * nodes[n].cosine;
    wave.constant += form.node[n] * nodes[n].constant;
  }
  return wave;
}

/// The first x in (after, before) at which the wave is zero, or `before`.
double first_zero(const SineWave& wave, double after_rad, double before_rad);

/// Solves matrix x = right for three unknowns and `columns` right sides; the answer replaces `right`. The
/// matrix is not singular.
template <std::size_t columns>
void solve_three(std::array<std::array<double, 3>, 3> matrix,
                 std::array<std::array<double, columns>, 3>& right) {
  std::array<std::size_t, 3> row{0, 1, 2};
  for (std::size_t k = 0; k < 3; ++k) {
    std::size_t best = k;
    for (std::size_t r = k + 1; r < 3; ++r)
      if (std::abs(matrix[row[r]][k]) > std::abs(matrix[row[best]][k])) best = r;
    std::swap(row[k], row[best]);
    const double scale = 1.0 / matrix[row[k]][k];
    for (std::size_t r = k + 1; r < 3; ++r) {
      const double factor = matrix[row[r]][k] * scale;
      if (factor == 0.0) continue;
      for (std::size_t c = k + 1; c < 3; ++c) matrix[row[r]][c] -= factor * matrix[row[k]][c];
      for (std::size_t c = 0; c < columns; ++c) right[row[r]][c] -= factor * right[row[k]][c];
    }
  }
  std::array<std::array<double, columns>, 3> answer{};
  for (std::size_t k = 3; k-- > 0;)
    for (std::size_t c = 0; c < columns; ++c) {
      double value = right[row[k]][c];
      for (std::size_t j = k + 1; j < 3; ++j) value -= matrix[row[k]][j] * answer[j][c];
      answer[k][c] = value / matrix[row[k]][k];
    }
  right = answer;
}

}  // namespace emberline::plant
