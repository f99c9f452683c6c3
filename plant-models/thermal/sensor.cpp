#include "plant-models/thermal/sensor.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <numeric>
#include <optional>
#include <span>

namespace emberline::plant {
namespace {

/// How far a long stretch may be from the short ones it stands for.
constexpr double kSame_K = 1e-6;
/// So many short ones a long one at most: they are compared one by one.
constexpr std::size_t kMostInOne = 1000;

double seconds(std::chrono::nanoseconds time) { return static_cast<double>(time.count()) * 1e-9; }

/// The four Hermite shapes at s = 0 to 1, for start value, start slope, end value, end slope.
std::array<double, 4> shapes(double s) {
  const double r = 1.0 - s;
  return {(1.0 + 2.0 * s) * r * r, s * r * r, s * s * (3.0 - 2.0 * s), -s * s * r};
}

/// Their derivatives.
std::array<double, 4> shape_slopes(double s) {
  const double r = 1.0 - s;
  return {-6.0 * s * r, r * (1.0 - 3.0 * s), 6.0 * s * r, s * (3.0 * s - 2.0)};
}

/// Weights of the shapes in the integral of u(s) z exp(-z (1 - s)) over s = 0 to 1, for a small z: Gauss and
/// Legendre's rule with five points.
std::array<double, 4> weights_of_short(double z) {
  constexpr std::array<double, 5> kPlaces{-0.9061798459386640, -0.5384693101056831, 0.0, 0.5384693101056831,
                                          0.9061798459386640};
  constexpr std::array<double, 5> kWeights{0.2369268850561891, 0.4786286704993665, 0.5688888888888889,
                                           0.4786286704993665, 0.2369268850561891};
  std::array<double, 4> sum{};
  for (std::size_t i = 0; i < kPlaces.size(); ++i) {
    const double s = 0.5 * (1.0 + kPlaces[i]);
    const double weight = 0.5 * kWeights[i] * z * std::exp(-z * (1.0 - s));
    const auto shape = shapes(s);
    for (std::size_t k = 0; k < 4; ++k) sum[k] += weight * shape[k];
  }
  return sum;
}

/// The same for a large z by parts: [p(1) - exp(-z) p(0)] with p = u - u'/z + u''/z^2 - u'''/z^3.
std::array<double, 4> weights_of_long(double z) {
  constexpr std::array<std::array<double, 3>, 4> kShapes{
      // u'(0), u''(0), u''' of each shape, u'' below at 1
      {{0.0, -6.0, 12.0}, {1.0, -4.0, 6.0}, {0.0, 6.0, -12.0}, {0.0, -2.0, 6.0}}};
  const double decay = std::exp(-z);
  const auto value_0 = shapes(0.0);
  const auto value_1 = shapes(1.0);
  const auto slope_1 = shape_slopes(1.0);
  std::array<double, 4> sum{};
  for (std::size_t k = 0; k < 4; ++k) {
    const auto [first, second, third] = kShapes[k];
    const double at_0 = value_0[k] - first / z + second / (z * z) - third / (z * z * z);
    const double at_1 = value_1[k] - slope_1[k] / z + (second + third) / (z * z) - third / (z * z * z);
    sum[k] = at_1 - decay * at_0;
  }
  return sum;
}

/// From the beginning of the first to the end of the last, if that says the same as all of them.
std::optional<Stretch> one_for(std::span<const Stretch> many) {
  Stretch one = many.front();
  one.end_degC = many.back().end_degC;
  one.end_slope_K_per_s = many.back().end_slope_K_per_s;
  for (const auto& next : many.subspan(1)) one.length += next.length;
  std::chrono::nanoseconds from{};
  for (const auto& part : many) {
    const auto middle = part.length / 2;
    if (std::abs(one.at(from) - part.start_degC) > kSame_K) return std::nullopt;
    if (std::abs(one.at(from + middle) - part.at(middle)) > kSame_K) return std::nullopt;
    from += part.length;
  }
  return one;
}

std::vector<Stretch> in_long_ones(const std::vector<Stretch>& many) {
  std::vector<Stretch> few;
  for (std::size_t first = 0; first < many.size();) {
    Stretch longest = many[first];
    std::size_t count = 1;
    while (first + count < many.size() && count < kMostInOne) {
      const auto longer = one_for(std::span(many).subspan(first, count + 1));
      if (!longer) break;
      longest = *longer;
      ++count;
    }
    few.push_back(longest);
    first += count;
  }
  return few;
}

}  // namespace

double Stretch::at(std::chrono::nanoseconds time) const {
  const double whole_s = seconds(length);
  const auto v = shapes(seconds(time) / whole_s);
  return start_degC + v[2] * (end_degC - start_degC) +
         whole_s * (v[1] * start_slope_K_per_s + v[3] * end_slope_K_per_s);
}

Stretch Stretch::part(std::chrono::nanoseconds from, std::chrono::nanoseconds to) const {
  if (from.count() == 0 && to == length) return *this;
  const double whole_s = seconds(length);
  const auto at = [&](std::chrono::nanoseconds time, double& value_degC, double& slope_K_per_s) {
    const double s = seconds(time) / whole_s;
    const auto v = shapes(s);
    const auto d = shape_slopes(s);
    // Written as a difference from the start: a constant stays itself to the last digit.
    const double rise_K = end_degC - start_degC;
    value_degC =
        start_degC + v[2] * rise_K + whole_s * (v[1] * start_slope_K_per_s + v[3] * end_slope_K_per_s);
    slope_K_per_s = d[2] * rise_K / whole_s + d[1] * start_slope_K_per_s + d[3] * end_slope_K_per_s;
  };
  Stretch part;
  part.length = to - from;
  at(from, part.start_degC, part.start_slope_K_per_s);
  at(to, part.end_degC, part.end_slope_K_per_s);
  return part;
}

FirstOrderLag::FirstOrderLag(std::chrono::nanoseconds time_constant, double start_degC)
    : time_constant_s_(seconds(time_constant)), output_degC_(start_degC) {}

FirstOrderLag::Weights FirstOrderLag::weights_for(std::chrono::nanoseconds length) const {
  const double length_s = seconds(length);
  const double z = length_s / time_constant_s_;
  const auto shape = z < 1.0 ? weights_of_short(z) : weights_of_long(z);
  Weights weights;
  weights.length = length;
  weights.kept = std::exp(-z);
  weights.start_value = shape[0];
  weights.start_slope = shape[1] * length_s;
  weights.end_value = shape[2];
  weights.end_slope = shape[3] * length_s;
  return weights;
}

void FirstOrderLag::advance(const Stretch& input) {
  if (time_constant_s_ <= 0.0) {
    output_degC_ = input.end_degC;
    return;
  }
  const auto* found = std::find_if(known_.begin(), known_.end(),
                                   [&](const Weights& weights) { return weights.length == input.length; });
  if (found == known_.end()) {
    found = &known_[oldest_];
    known_[oldest_] = weights_for(input.length);
    oldest_ = (oldest_ + 1) % known_.size();
  }
  // kept + start_value + end_value = 1: counted from the output, a constant stays itself.
  const double start_K = input.start_degC - output_degC_;
  const double end_K = input.end_degC - output_degC_;
  output_degC_ += found->start_value * start_K + found->start_slope * input.start_slope_K_per_s +
                  found->end_value * end_K + found->end_slope * input.end_slope_K_per_s;
}

Sensor::Sensor(const Parameters& parameters) : lag_(parameters.lag, parameters.start_degC) {
  assert(parameters.lag.count() >= 0 && parameters.dead_time.count() >= 0);
  if (parameters.dead_time.count() > 0)
    on_its_way_.push_back({parameters.dead_time, parameters.start_degC, 0.0, parameters.start_degC, 0.0});
}

void Sensor::advance(const Stretch& course) {
  if (on_its_way_.empty()) {
    lag_.advance(course);
    return;
  }
  on_its_way_.push_back(course);
  auto left = course.length;
  while (left.count() > 0) {
    const Stretch& front = on_its_way_.front();
    const auto used = std::min(left, front.length - front_used_);
    lag_.advance(front.part(front_used_, front_used_ + used));
    front_used_ += used;
    left -= used;
    if (front_used_ == front.length) {
      on_its_way_.pop_front();
      front_used_ = {};
    }
  }
}

Sensor::State Sensor::state() const {
  std::vector<Stretch> left(on_its_way_.begin(), on_its_way_.end());
  if (!left.empty()) left.front() = left.front().part(front_used_, left.front().length);
  return {lag_.output_degC(), in_long_ones(left)};
}

void Sensor::begin_at(const State& state) {
  const auto dead_time = [](const auto& stretches, std::chrono::nanoseconds used) {
    return std::accumulate(stretches.begin(), stretches.end(), -used,
                           [](auto sum, const Stretch& stretch) { return sum + stretch.length; });
  };
  assert(dead_time(state.on_its_way, {}) == dead_time(on_its_way_, front_used_));
  on_its_way_.assign(state.on_its_way.begin(), state.on_its_way.end());
  front_used_ = {};
  lag_.set_output(state.shown_degC);
}

}  // namespace emberline::plant
