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
  shares_.clear();
  overlaps_.clear();
  gated_.clear();
  node_ = 0.0;
  total_ = 0.0;
  at_ = {0.0, 0.0, 1.0};

  by_firing_.clear();
  for (std::size_t leg = 0; leg < legs.size(); ++leg)
    if (legs[leg].firing_rad < kPi) by_firing_.push_back(leg);
  std::sort(by_firing_.begin(), by_firing_.end(),
            [&](std::size_t a, std::size_t b) { return legs[a].firing_rad < legs[b].firing_rad; });
  find_kinds();

  for (std::size_t next = 0; next <= by_firing_.size(); ++next) {
    const double until = next < by_firing_.size() ? legs[by_firing_[next]].firing_rad : kPi;
    if (until > at_.rad) between_firings(at_.rad, until);
    if (next < by_firing_.size()) gate(by_firing_[next]);
  }
  sum_up();
}

void HalfWave::find_kinds() {
  kinds_.clear();
  kind_of_.resize(legs_.size());
  first_piece_.resize(legs_.size());
  const auto at_least = [](const Kind& kind, double drop_V) { return kind.drop_V < drop_V; };
  for (const std::size_t leg : by_firing_) {
    const double drop_V = legs_[leg].drop_V;
    const auto place = std::lower_bound(kinds_.begin(), kinds_.end(), drop_V, at_least);
    if (place == kinds_.end() || place->drop_V != drop_V) kinds_.insert(place, Kind{drop_V});
  }
  for (const std::size_t leg : by_firing_) {
    const auto place = std::lower_bound(kinds_.begin(), kinds_.end(), legs_[leg].drop_V, at_least);
    kind_of_[leg] = static_cast<std::size_t>(place - kinds_.begin());
  }
}

void HalfWave::gate(std::size_t leg) {
  const std::size_t number = kind_of_[leg];
  Kind& kind = kinds_[number];
  kind.conductance_S += legs_[leg].conductance_S;
  kind.offset_A += legs_[leg].conductance_S * kind.drop_V;
  first_piece_[leg] = pieces_.size();
  if (kind.gated) return;
  kind.gated = true;
  gated_.insert(std::upper_bound(gated_.begin(), gated_.end(), number), number);
}

void HalfWave::between_firings(double from_rad, double to_rad) {
  // A kind begins when the node, loaded by those with less drop, reaches its own drop.
  double conductance = 0.0;
  double current = 0.0;  // sum of G d
  for (const std::size_t number : gated_) {
    Kind& kind = kinds_[number];
    const double source_V = kind.drop_V + source_ohm_ * (conductance * kind.drop_V - current);
    kind.threshold_rad = source_V > 0.0 ? std::asin(std::min(1.0, source_V / peak_V_)) : 0.0;
    conductance += kind.conductance_S;
    current += kind.offset_A;
  }
  const auto threshold = [this](std::size_t place) { return kinds_[gated_[place]].threshold_rad; };
  const std::size_t count = gated_.size();
  std::size_t conducting = 0;
  for (; conducting < count && threshold(conducting) <= from_rad; ++conducting) {
  }
  for (; conducting < count && threshold(conducting) < to_rad; ++conducting)
    add_piece(threshold(conducting), conducting);
  for (; conducting > 0 && kPi - threshold(conducting - 1) < to_rad; --conducting)
    add_piece(kPi - threshold(conducting - 1), conducting);
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
    conductance += kinds_[gated_[k]].conductance_S;
    current += kinds_[gated_[k]].offset_A;
  }
  const double share = 1.0 / (1.0 + source_ohm_ * conductance);
  const Piece piece{at_, to, peak_V_ * share, source_ohm_ * current * share, conductance, current};
  const SineMoments moments(at_, to);
  node_ += moments.square(piece.node_sine, piece.node_constant) / kPi;
  total_ += moments.square(conductance * piece.node_sine, conductance * piece.node_constant - current) / kPi;
  const double highest = at_.rad <= 0.5 * kPi && to.rad >= 0.5 * kPi ? 1.0 : std::max(at_.sine, to.sine);

  const std::size_t first = shares_.size();
  shares_.resize(first + kinds_.size());
  for (std::size_t k = 0; k < conducting; ++k) {
    const double over_V = piece.node_constant - kinds_[gated_[k]].drop_V;
    shares_[first + gated_[k]] = {true, moments.square(piece.node_sine, over_V),
                                  piece.node_sine * moments.sine + over_V * moments.length,
                                  piece.node_sine * highest + over_V};
  }
  pieces_.push_back(piece);
  at_ = to;
}

/// From the end of the half-wave on, so that what is small beside the rest keeps its digits.
void HalfWave::sum_up() {
  const std::size_t kinds = kinds_.size();
  for (std::size_t at = shares_.size(); at-- > 0;) {
    if (at + kinds >= shares_.size()) continue;  // the last piece
    Share& share = shares_[at];
    const Share& rest = shares_[at + kinds];
    share.square += rest.square;
    share.mean += rest.mean;
    share.peak = std::max(share.peak, rest.peak);
  }
  currents_.assign(legs_.size(), Current{});
  for (const std::size_t leg : by_firing_) {
    const std::size_t at = first_piece_[leg] * kinds + kind_of_[leg];
    if (at >= shares_.size()) continue;  // fired so late that there is no piece
    const double conducts_S = legs_[leg].conductance_S;
    const Share& share = shares_[at];
    currents_[leg] = {conducts_S * conducts_S * share.square / kPi, conducts_S * share.mean / kPi,
                      conducts_S * (share.square + legs_[leg].drop_V * share.mean) / kPi,
                      conducts_S * share.peak};
  }
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

double HalfWave::square_of(const Overlap& overlap, std::size_t kind, std::size_t first_phase) const {
  double sine = 0.0;
  double cosine = 0.0;
  double constant = 0.0;
  for (std::size_t phase = first_phase; phase < 3; ++phase) {
    const std::size_t index = overlap.pieces[phase];
    if (!shares_[index * kinds_.size() + kind].conducts) continue;
    const Piece& piece = pieces_[index];
    sine += kSign[phase] * piece.node_sine * kCosine[phase];
    cosine += kSign[phase] * piece.node_sine * kSine[phase];
    constant += kSign[phase] * (piece.node_constant - kinds_[kind].drop_V);
  }
  return overlap.moments.square(sine, cosine, constant);
}

void HalfWave::find_threes() {
  find_overlaps();
  const std::size_t kinds = kinds_.size();
  threes_.assign((overlaps_.size() + 1) * kinds, Threes{});
  for (std::size_t o = overlaps_.size(); o-- > 0;) {
    for (std::size_t kind = 0; kind < kinds; ++kind) {
      Threes& sums = threes_[o * kinds + kind];
      sums = threes_[(o + 1) * kinds + kind];
      for (std::size_t gated = 1; gated <= 3; ++gated)
        sums[gated - 1] += square_of(overlaps_[o], kind, 3 - gated);
    }
  }
  for (std::size_t phase = 0; phase < 3; ++phase) {
    auto& first = first_overlap_[phase];
    first.clear();
    for (std::size_t o = 0; o < overlaps_.size(); ++o)
      while (first.size() <= overlaps_[o].pieces[phase]) first.push_back(o);
    first.resize(pieces_.size(), overlaps_.size());
  }
}

double HalfWave::sum_of_three_mean_square(std::size_t leg) {
  if (overlaps_.empty()) find_threes();
  const std::size_t first = first_piece_[leg];
  if (legs_[leg].firing_rad >= kPi || first >= pieces_.size()) return 0.0;
  // A phase that is further on in its half-wave is gated earlier: the third, then the second, then the first.
  const auto from = [&](std::size_t phase, std::size_t gated) {
    return threes_[first_overlap_[phase][first] * kinds_.size() + kind_of_[leg]][gated - 1];
  };
  const double sum = from(0, 3) + (from(1, 2) - from(0, 2)) + (from(2, 1) - from(1, 1));
  const double conductance = legs_[leg].conductance_S;
  return std::max(0.0, conductance * conductance * sum / kSixth);
}

double HalfWave::sum_of_three_totals_mean_square() {
  if (overlaps_.empty()) find_threes();
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
