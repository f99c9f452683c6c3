#include "plant-models/electrical/coupled_phases.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "plant-models/electrical/sine_moments.hpp"

namespace emberline::plant {
namespace {
constexpr double kPi = std::numbers::pi;
constexpr double kSixth = kPi / 3.0;
constexpr double kHalfSqrt3 = std::numbers::sqrt3 / 2.0;
/// Phases 1, 2, 3 are sin x, sin(x - 120 deg), sin(x + 120 deg): parts along sin x and cos x.
constexpr std::array<double, 3> kSine{1.0, -0.5, -0.5};
constexpr std::array<double, 3> kCosine{0.0, -kHalfSqrt3, kHalfSqrt3};
/// In the first sixth of the cycle they are in their positive, negative, positive half-wave, and 0, 60 and
/// 120 degrees after its zero.
constexpr std::array<int, 3> kHalfWave{1, -1, 1};
constexpr std::array<double, 3> kSinceZero_rad{0.0, kSixth, 2.0 * kSixth};
/// How far behind a change the new set of branches is looked for; the order of the angle's error.
constexpr double kBehind_rad = 1e-10;

double value(const std::array<double, 3>& wave, double sine, double cosine) {
  return wave[0] * sine + wave[1] * cosine + wave[2];
}

/// The first x in (after, before) with a sin x + b cos x + c = 0, or `before`.
double first_zero(const std::array<double, 3>& wave, double after_rad, double before_rad) {
  const double amplitude = std::hypot(wave[0], wave[1]);
  if (!(std::abs(wave[2]) < amplitude)) return before_rad;
  const double phase = std::atan2(wave[1], wave[0]);  // amplitude sin(x + phase) = -c
  const double angle = std::asin(-wave[2] / amplitude);
  double first = before_rad;
  for (const double root : {angle - phase, kPi - angle - phase}) {
    const double turns = std::floor((root - after_rad) / (2.0 * kPi));
    const double x = root - turns * 2.0 * kPi;
    if (x > after_rad && x < first) first = x;
  }
  return first;
}
}  // namespace

void CoupledPhases::solve(double peak_V, double source_ohm, std::span<const Load> loads) {
  peak_V_ = peak_V;
  source_ohm_ = source_ohm;
  loads_ = loads;
  branches_.clear();
  currents_.assign(loads.size(), Currents{});
  node_ = 0.0;
  for (std::size_t load = 0; load < loads.size(); ++load)
    for (std::size_t phase = 0; phase < 3 && loads[load].firing_rad < kPi; ++phase)
      branches_.push_back({load, phase, 0});

  // Every step ends at a change behind its start; the bound only keeps a slip of ours from never ending.
  const std::size_t steps_max = 16 * (branches_.size() + 1);
  double at = 0.0;
  for (std::size_t step = 0; step < steps_max && at < kSixth; ++step) {
    settle(at + kBehind_rad);
    const double until = step + 1 < steps_max ? next_change(at + kBehind_rad) : kSixth;
    integrate(at, until);
    at = until;
  }
}

bool CoupledPhases::gated(const Branch& branch, double at_rad) const {
  const Load& load = loads_[branch.load];
  return load.delta || at_rad + kSinceZero_rad[branch.phase] >= load.firing_rad;
}

CoupledPhases::Wave CoupledPhases::voltage(const Branch& branch) const {
  Wave wave = nodes_[branch.phase];
  if (loads_[branch.load].delta)
    for (std::size_t i = 0; i < 3; ++i) wave[i] -= nodes_[(branch.phase + 1) % 3][i];
  return wave;
}

CoupledPhases::Wave CoupledPhases::current(const Branch& branch) const {
  if (branch.direction == 0) return {};
  Wave wave = voltage(branch);
  wave[2] -= branch.direction * loads_[branch.load].drop_V;
  for (double& part : wave) part *= loads_[branch.load].conductance_S;
  return wave;
}

int CoupledPhases::wanted_direction(const Branch& branch, double at_rad) const {
  if (!gated(branch, at_rad)) return 0;
  const Load& load = loads_[branch.load];
  const double volts = value(voltage(branch), std::sin(at_rad), std::cos(at_rad));
  if (!load.delta) return kHalfWave[branch.phase] * volts > load.drop_V ? kHalfWave[branch.phase] : 0;
  if (volts > load.drop_V) return 1;
  return volts < -load.drop_V ? -1 : 0;
}

/// Finds the set of conducting branches at an angle: all that disagree change at once; should that go round
/// in circles, one at a time, which always ends.
void CoupledPhases::settle(double at_rad) {
  const std::size_t rounds_max = 20 + 8 * branches_.size();
  find_nodes();
  for (std::size_t round = 0; round < rounds_max; ++round) {
    bool changed = false;
    for (auto& branch : branches_) {
      const int wanted = wanted_direction(branch, at_rad);
      if (wanted == branch.direction) continue;
      branch.direction = wanted;
      changed = true;
      if (round >= 20) break;
    }
    if (!changed) return;
    find_nodes();
  }
}

/// Solves (1 + R G_p) v_p + R sum over delta branches G (v_p - v_q) = e_p + R (drops) for the three phases.
void CoupledPhases::find_nodes() {
  std::array<double, 3> diagonal{1.0, 1.0, 1.0};
  std::array<double, 3> between{};  // R G of the delta branches from a phase to the next
  std::array<Wave, 3> right{};
  for (std::size_t p = 0; p < 3; ++p) right[p] = {peak_V_ * kSine[p], peak_V_ * kCosine[p], 0.0};
  for (const auto& branch : branches_) {
    if (branch.direction == 0) continue;
    const Load& load = loads_[branch.load];
    const double weight = source_ohm_ * load.conductance_S;
    const double shift_V = weight * branch.direction * load.drop_V;
    diagonal[branch.phase] += weight;
    right[branch.phase][2] += shift_V;
    if (!load.delta) continue;
    const std::size_t next = (branch.phase + 1) % 3;
    diagonal[next] += weight;
    between[branch.phase] += weight;
    right[next][2] -= shift_V;
  }
  // The matrix is symmetric; between[0], [1], [2] link phases 1-2, 2-3, 3-1. Inverse by its cofactors.
  const auto [a, b, c] = diagonal;
  const double ab = -between[0];
  const double bc = -between[1];
  const double ca = -between[2];
  const std::array<std::array<double, 3>, 3> cofactors{
      {{b * c - bc * bc, ca * bc - ab * c, ab * bc - ca * b},
       {ca * bc - ab * c, a * c - ca * ca, ab * ca - a * bc},
       {ab * bc - ca * b, ab * ca - a * bc, a * b - ab * ab}}};
  const double scale = 1.0 / (a * cofactors[0][0] + ab * cofactors[0][1] + ca * cofactors[0][2]);
  for (std::size_t p = 0; p < 3; ++p)
    for (std::size_t part = 0; part < 3; ++part)
      nodes_[p][part] = scale * (cofactors[p][0] * right[0][part] + cofactors[p][1] * right[1][part] +
                                 cofactors[p][2] * right[2][part]);
}

double CoupledPhases::next_change(double after_rad) const {
  double next = kSixth;
  for (const auto& branch : branches_) {
    const Load& load = loads_[branch.load];
    if (!gated(branch, after_rad)) {
      const double firing = load.firing_rad - kSinceZero_rad[branch.phase];
      if (firing > after_rad) next = std::min(next, firing);
      continue;
    }
    Wave over = voltage(branch);
    const double middle = over[2];
    const bool may_be_positive = load.delta ? branch.direction >= 0 : kHalfWave[branch.phase] > 0;
    const bool may_be_negative = load.delta ? branch.direction <= 0 : kHalfWave[branch.phase] < 0;
    if (may_be_positive) {
      over[2] = middle - load.drop_V;
      next = first_zero(over, after_rad, next);
    }
    if (may_be_negative) {
      over[2] = middle + load.drop_V;
      next = first_zero(over, after_rad, next);
    }
  }
  return next;
}

void CoupledPhases::integrate(double from_rad, double to_rad) {
  const SineMoments moments({from_rad, std::sin(from_rad), std::cos(from_rad)},
                            {to_rad, std::sin(to_rad), std::cos(to_rad)});
  // The three phases together pass through a whole half-wave while x passes through a sixth.
  const auto square = [&](const Wave& wave) { return moments.square(wave[0], wave[1], wave[2]) / kSixth; };
  for (const auto& wave : nodes_) node_ += square(wave) / 3.0;
  for (std::size_t first = 0; first < branches_.size(); first += 3) {
    const Load& load = loads_[branches_[first].load];
    Currents& sums = currents_[branches_[first].load];
    const std::array<Wave, 3> waves{current(branches_[first]), current(branches_[first + 1]),
                                    current(branches_[first + 2])};
    for (std::size_t phase = 0; phase < 3; ++phase) {
      const double own = square(waves[phase]) / 3.0;
      sums.branch_mean_square += own;
      if (!load.delta) {
        sums.line_mean_square += own;
        continue;
      }
      const Wave& from = waves[(phase + 2) % 3];
      const Wave& to = waves[phase];
      sums.line_mean_square += square({to[0] - from[0], to[1] - from[1], to[2] - from[2]}) / 3.0;
    }
    if (load.delta) continue;
    Wave neutral{};
    for (const auto& wave : waves)
      for (std::size_t part = 0; part < 3; ++part) neutral[part] += wave[part];
    sums.neutral_mean_square += square(neutral);
  }
}

}  // namespace emberline::plant
