#include "plant-models/electrical/half_wave.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace emberline::plant {
namespace {
constexpr double kPi = std::numbers::pi;
constexpr double kSixth = kPi / 3.0;
constexpr double kSin60 = std::numbers::sqrt3 / 2.0;
/// Sines and cosines of 0, 60 and 120 degrees.
constexpr std::array<double, 3> kSine{0.0, kSin60, kSin60};
constexpr std::array<double, 3> kCosine{1.0, 0.5, -0.5};
/// In the first sixth of the cycle phases 1, 2, 3 are in their positive, negative, positive half-wave.
constexpr std::array<double, 3> kSign{1.0, -1.0, 1.0};
constexpr double kSameAngle = 1e-13;
}  // namespace

void HalfWave::solve(double peak_V, double source_ohm, std::span<const Leg> legs) {
  peak_V_ = peak_V;
  source_ohm_ = source_ohm;
  legs_ = legs;
  pieces_.clear();
  conducts_.clear();
  overlaps_.clear();
  gated_.clear();
  currents_.assign(legs.size(), Current{});
  node_ = 0.0;
  total_ = 0.0;
  at_ = {0.0, 0.0, 1.0};

  by_firing_.clear();
  for (std::size_t leg = 0; leg < legs.size(); ++leg)
    if (legs[leg].firing_rad < kPi) by_firing_.push_back(leg);
  std::sort(by_firing_.begin(), by_firing_.end(),
            [&](std::size_t a, std::size_t b) { return legs[a].firing_rad < legs[b].firing_rad; });

  for (std::size_t next = 0; next <= by_firing_.size(); ++next) {
    const double until = next < by_firing_.size() ? legs[by_firing_[next]].firing_rad : kPi;
    if (until > at_.rad) between_firings(at_.rad, until);
    if (next == by_firing_.size()) break;
    const auto place =
        std::upper_bound(gated_.begin(), gated_.end(), by_firing_[next],
                         [&](std::size_t a, std::size_t b) { return legs[a].drop_V < legs[b].drop_V; });
    gated_.insert(place, by_firing_[next]);
  }
}

void HalfWave::between_firings(double from_rad, double to_rad) {
  // A leg begins when the node, loaded by those with less drop, reaches its own drop.
  thresholds_rad_.clear();
  double conductance = 0.0;
  double current = 0.0;  // sum of G d
  double last_V = -1.0;
  for (const std::size_t leg : gated_) {
    const double drop = legs_[leg].drop_V;
    const double source_V = drop + source_ohm_ * (conductance * drop - current);
    if (drop == last_V) {
      thresholds_rad_.push_back(thresholds_rad_.back());
    } else {
      thresholds_rad_.push_back(source_V > 0.0 ? std::asin(std::min(1.0, source_V / peak_V_)) : 0.0);
    }
    last_V = drop;
    conductance += legs_[leg].conductance_S;
    current += legs_[leg].conductance_S * drop;
  }
  const std::size_t count = gated_.size();
  std::size_t conducting = 0;
  for (; conducting < count && thresholds_rad_[conducting] <= from_rad; ++conducting) {
  }
  for (; conducting < count && thresholds_rad_[conducting] < to_rad; ++conducting)
    add_piece(thresholds_rad_[conducting], conducting);
  for (; conducting > 0 && kPi - thresholds_rad_[conducting - 1] < to_rad; --conducting)
    add_piece(kPi - thresholds_rad_[conducting - 1], conducting);
  add_piece(to_rad, conducting);
}

void HalfWave::add_piece(double to_rad, std::size_t conducting) {
  if (to_rad - at_.rad <= kSameAngle) return;
  const SineMoments::Angle to = to_rad == kPi
                                    ? SineMoments::Angle{kPi, 0.0, -1.0}
                                    : SineMoments::Angle{to_rad, std::sin(to_rad), std::cos(to_rad)};
  double conductance = 0.0;
  double current = 0.0;
  for (std::size_t k = 0; k < conducting; ++k) {
    const Leg& leg = legs_[gated_[k]];
    conductance += leg.conductance_S;
    current += leg.conductance_S * leg.drop_V;
  }
  const double share = 1.0 / (1.0 + source_ohm_ * conductance);
  const Piece piece{at_, to, peak_V_ * share, source_ohm_ * current * share, conductance, current};
  const SineMoments moments(at_, to);
  node_ += moments.square(piece.node_sine, piece.node_constant) / kPi;
  total_ += moments.square(conductance * piece.node_sine, conductance * piece.node_constant - current) / kPi;
  const double highest = at_.rad <= 0.5 * kPi && to.rad >= 0.5 * kPi ? 1.0 : std::max(at_.sine, to.sine);

  const std::size_t first = conducts_.size();
  conducts_.resize(first + legs_.size(), 0);
  for (std::size_t k = 0; k < conducting; ++k) {
    const std::size_t leg = gated_[k];
    const double conducts_S = legs_[leg].conductance_S;
    const double over_V = piece.node_constant - legs_[leg].drop_V;
    const double square = moments.square(piece.node_sine, over_V);
    const double mean = piece.node_sine * moments.sine + over_V * moments.length;
    Current& sums = currents_[leg];
    sums.square += conducts_S * conducts_S * square / kPi;
    sums.mean += conducts_S * mean / kPi;
    sums.power += conducts_S * (square + legs_[leg].drop_V * mean) / kPi;
    sums.peak = std::max(sums.peak, conducts_S * (piece.node_sine * highest + over_V));
    conducts_[first + leg] = 1;
  }
  pieces_.push_back(piece);
  at_ = to;
}

void HalfWave::find_overlaps() {
  std::array<std::size_t, 3> piece{};
  for (std::size_t phase = 1; phase < 3; ++phase)
    while (pieces_[piece[phase]].to.rad - kSixth * static_cast<double>(phase) <= kSameAngle) ++piece[phase];
  SineMoments::Angle at{0.0, 0.0, 1.0};
  while (kSixth - at.rad > kSameAngle) {
    SineMoments::Angle next{kSixth, kSin60, 0.5};
    for (std::size_t phase = 0; phase < 3; ++phase) {
      const auto& end = pieces_[piece[phase]].to;
      const double rad = end.rad - kSixth * static_cast<double>(phase);
      if (rad < next.rad) {
        next = {rad, end.sine * kCosine[phase] - end.cosine * kSine[phase],
                end.cosine * kCosine[phase] + end.sine * kSine[phase]};
      }
    }
    overlaps_.push_back({SineMoments(at, next), piece});
    for (std::size_t phase = 0; phase < 3; ++phase)
      while (piece[phase] + 1 < pieces_.size() &&
             pieces_[piece[phase]].to.rad - kSixth * static_cast<double>(phase) - next.rad <= kSameAngle)
        ++piece[phase];
    at = next;
  }
}

double HalfWave::sum_of_three_mean_square(std::size_t leg) {
  if (overlaps_.empty()) find_overlaps();
  const double drop = legs_[leg].drop_V;
  double sum = 0.0;
  for (const auto& overlap : overlaps_) {
    double sine = 0.0;
    double cosine = 0.0;
    double constant = 0.0;
    for (std::size_t phase = 0; phase < 3; ++phase) {
      const std::size_t index = overlap.pieces[phase];
      if (conducts_[index * legs_.size() + leg] == 0) continue;
      const Piece& piece = pieces_[index];
      sine += kSign[phase] * piece.node_sine * kCosine[phase];
      cosine += kSign[phase] * piece.node_sine * kSine[phase];
      constant += kSign[phase] * (piece.node_constant - drop);
    }
    sum += overlap.moments.square(sine, cosine, constant);
  }
  const double conductance = legs_[leg].conductance_S;
  return std::max(0.0, conductance * conductance * sum / kSixth);
}

double HalfWave::sum_of_three_totals_mean_square() {
  if (overlaps_.empty()) find_overlaps();
  double sum = 0.0;
  for (const auto& overlap : overlaps_) {
    double sine = 0.0;
    double cosine = 0.0;
    double constant = 0.0;
    for (std::size_t phase = 0; phase < 3; ++phase) {
      const Piece& piece = pieces_[overlap.pieces[phase]];
      sine += kSign[phase] * piece.conductance_S * piece.node_sine * kCosine[phase];
      cosine += kSign[phase] * piece.conductance_S * piece.node_sine * kSine[phase];
      constant += kSign[phase] * (piece.conductance_S * piece.node_constant - piece.offset_A);
    }
    sum += overlap.moments.square(sine, cosine, constant);
  }
  return std::max(0.0, sum / kSixth);
}

}  // namespace emberline::plant
