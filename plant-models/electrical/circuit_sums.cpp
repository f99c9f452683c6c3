#include "plant-models/electrical/circuit_sums.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace emberline::plant {
namespace {
constexpr double kTurn = 2.0 * std::numbers::pi;

double square(const SineMoments& moments, const SineWave& wave) {
  return moments.square(wave.sine, wave.cosine, wave.constant);
}
double mean(const SineMoments& moments, const SineWave& wave) {
  return wave.sine * moments.sine + wave.cosine * moments.cosine + wave.constant * moments.length;
}
double product(const SineMoments& moments, const SineWave& a, const SineWave& b) {
  return a.sine * b.sine * moments.sine_sine + a.cosine * b.cosine * moments.cosine_cosine +
         (a.sine * b.cosine + a.cosine * b.sine) * moments.sine_cosine +
         (a.sine * b.constant + a.constant * b.sine) * moments.sine +
         (a.cosine * b.constant + a.constant * b.cosine) * moments.cosine +
         a.constant * b.constant * moments.length;
}

/// The largest |wave| on a stretch of less than half a turn, or of any length with the amplitude as its
/// bound.
double peak(const SineWave& wave, const SineMoments::Angle& from, const SineMoments::Angle& to) {
  double largest = std::max(std::abs(wave.at(from.sine, from.cosine)), std::abs(wave.at(to.sine, to.cosine)));
  const double amplitude = std::sqrt(wave.sine * wave.sine + wave.cosine * wave.cosine);
  if (std::abs(wave.constant) + amplitude <= largest || amplitude == 0.0) return largest;
  const double top_rad = std::atan2(wave.sine, wave.cosine);  // amplitude cos(x - top)
  for (const double sign : {1.0, -1.0}) {
    const double at_rad = sign > 0.0 ? top_rad : top_rad + std::numbers::pi;
    const double first_rad = at_rad - kTurn * std::floor((at_rad - from.rad) / kTurn);
    if (first_rad <= to.rad) largest = std::max(largest, std::abs(wave.constant + sign * amplitude));
  }
  return largest;
}

double rms(double sum) { return std::sqrt(std::max(0.0, sum) / kTurn); }
}  // namespace

UnitValues values_at(const UnitCircuit& unit, const std::array<double, 3>& nodes_V) {
  UnitValues values;
  for (std::size_t l = 0; l < unit.legs; ++l) {
    values.leg_V[l] = unit.leg_V[l].at(nodes_V);
    values.leg_A[l] = unit.leg_A[l].at(nodes_V);
    values.pair_A[l] = unit.pair_A[l].at(nodes_V);
    if (unit.has_transformer()) values.element_W[l] = unit.element_W(l, values.leg_V[l]);
  }
  for (std::size_t p = 0; p < 3; ++p) values.line_A[p] = unit.line_A[p].at(nodes_V);
  values.neutral_A = unit.neutral_A.at(nodes_V);
  return values;
}

void UnitSums::add_stretch(const UnitCircuit& unit, const NodeWaves& nodes, const SineMoments::Angle& from,
                           const SineMoments::Angle& to) {
  const SineMoments moments(from, to);
  for (std::size_t l = 0; l < unit.legs; ++l) {
    const SineWave volts = wave_of(unit.leg_V[l], nodes);
    const SineWave amperes = wave_of(unit.leg_A[l], nodes);
    leg_square_V_[l] += square(moments, volts);
    leg_square_A_[l] += square(moments, amperes);
    leg_power_W_[l] += product(moments, volts, amperes);
    const SineWave pair = wave_of(unit.pair_A[l], nodes);
    const double dc = mean(moments, pair);
    pair_A_[l] += dc;
    pair_absolute_A_[l] += std::abs(dc);  // it keeps its sign while it conducts
    pair_peak_A_[l] = std::max(pair_peak_A_[l], peak(pair, from, to));
  }
  for (std::size_t p = 0; p < 3; ++p) {
    const SineWave line = wave_of(unit.line_A[p], nodes);
    line_square_A_[p] += square(moments, line);
    line_power_W_[p] += product(moments, line, nodes[p]);
  }
  neutral_square_A_ += square(moments, wave_of(unit.neutral_A, nodes));
}

void UnitSums::add_step(double length_rad, const UnitValues& from, const UnitValues& to,
                        const std::array<double, 3>& from_nodes_V, const std::array<double, 3>& to_nodes_V) {
  const double half = 0.5 * length_rad;
  for (std::size_t l = 0; l < 3; ++l) {
    leg_square_V_[l] += half * (from.leg_V[l] * from.leg_V[l] + to.leg_V[l] * to.leg_V[l]);
    leg_square_A_[l] += half * (from.leg_A[l] * from.leg_A[l] + to.leg_A[l] * to.leg_A[l]);
    leg_power_W_[l] += half * (from.leg_V[l] * from.leg_A[l] + to.leg_V[l] * to.leg_A[l]);
    element_W_[l] += half * (from.element_W[l] + to.element_W[l]);
    pair_A_[l] += half * (from.pair_A[l] + to.pair_A[l]);
    pair_absolute_A_[l] += half * (std::abs(from.pair_A[l]) + std::abs(to.pair_A[l]));
    pair_peak_A_[l] = std::max({pair_peak_A_[l], std::abs(from.pair_A[l]), std::abs(to.pair_A[l])});
    line_square_A_[l] += half * (from.line_A[l] * from.line_A[l] + to.line_A[l] * to.line_A[l]);
    line_power_W_[l] += half * (from.line_A[l] * from_nodes_V[l] + to.line_A[l] * to_nodes_V[l]);
  }
  neutral_square_A_ += half * (from.neutral_A * from.neutral_A + to.neutral_A * to.neutral_A);
}

void UnitSums::fill(const UnitCircuit& unit, LoadResult& result) const {
  result = LoadResult{};
  for (std::size_t l = 0; l < unit.legs; ++l) {
    result.legs[l] = {rms(leg_square_V_[l]), rms(leg_square_A_[l]), leg_power_W_[l] / kTurn};
    result.pairs[l] = {pair_absolute_A_[l] / kTurn, pair_A_[l] / kTurn, pair_peak_A_[l]};
    result.element_W[l] = unit.has_transformer() ? element_W_[l] / kTurn : result.legs[l].power_W;
    result.leg_resistance_ohm[l] = unit.leg_ohm[l];
  }
  for (std::size_t p = 0; p < 3; ++p) {
    result.line_current_A[p] = rms(line_square_A_[p]);
    result.line_power_W[p] = line_power_W_[p] / kTurn;
  }
  result.neutral_current_A = rms(neutral_square_A_);
}

void SupplySums::fill(NetworkResult& result) const {
  for (std::size_t p = 0; p < 3; ++p) {
    result.supply_voltage_V[p] = rms(node_square_V[p]);
    result.supply_line_V[p] = rms(line_square_V[p]);
    result.supply_current_A[p] = rms(line_square_A[p]);
  }
  result.supply_neutral_A = rms(neutral_square_A);
}

namespace {
constexpr double kSample_rad = kTurn / static_cast<double>(Waves::kSamples);
double sample_rad(std::size_t sample) { return (static_cast<double>(sample) + 0.5) * kSample_rad; }
}  // namespace

bool WaveWriter::next_before(double rad) const { return next_ < Waves::kSamples && sample_rad(next_) < rad; }

void WaveWriter::write(const UnitValues& values, const std::array<double, 3>& nodes_V) {
  for (std::size_t k = 0; k < 3; ++k) {
    waves_->supply_V[k][next_] = nodes_V[k];
    waves_->voltage_V[k][next_] = values.leg_V[k];
    waves_->current_A[k][next_] = values.leg_A[k];
    waves_->line_A[k][next_] = values.line_A[k];
  }
  ++next_;
}

void WaveWriter::stretch(const UnitCircuit& unit, const NodeWaves& nodes, double to_rad) {
  while (next_before(to_rad)) {
    const double sine = std::sin(sample_rad(next_));
    const double cosine = std::cos(sample_rad(next_));
    const std::array<double, 3> nodes_V{nodes[0].at(sine, cosine), nodes[1].at(sine, cosine),
                                        nodes[2].at(sine, cosine)};
    write(unit.connected() ? values_at(unit, nodes_V) : UnitValues{}, nodes_V);
  }
}

void WaveWriter::step(double from_rad, double to_rad, const UnitValues& from, const UnitValues& to,
                      const std::array<double, 3>& from_nodes_V, const std::array<double, 3>& to_nodes_V) {
  while (next_before(to_rad)) {
    const double share = (sample_rad(next_) - from_rad) / (to_rad - from_rad);
    const auto between = [share](double a, double b) { return a + share * (b - a); };
    UnitValues values;
    std::array<double, 3> nodes_V{};
    for (std::size_t p = 0; p < 3; ++p) {
      nodes_V[p] = between(from_nodes_V[p], to_nodes_V[p]);
      values.leg_V[p] = between(from.leg_V[p], to.leg_V[p]);
      values.leg_A[p] = between(from.leg_A[p], to.leg_A[p]);
      values.line_A[p] = between(from.line_A[p], to.line_A[p]);
    }
    write(values, nodes_V);
  }
}

void add_lines(const std::vector<const std::vector<LineStretch>*>& units, SupplySums& sums) {
  struct Change {
    const LineStretch* before;
    const LineStretch* after;
  };
  std::vector<Change> changes;
  std::array<SineWave, 3> line{};
  const auto add = [&](const LineStretch& stretch, double sign) {
    for (std::size_t p = 0; p < 3; ++p) {
      line[p].sine += sign * stretch.line_A[p].sine;
      line[p].cosine += sign * stretch.line_A[p].cosine;
      line[p].constant += sign * stretch.line_A[p].constant;
    }
  };
  for (const auto* unit : units) {
    if (unit->empty()) continue;
    add(unit->front(), 1.0);
    for (std::size_t k = 1; k < unit->size(); ++k) changes.push_back({&(*unit)[k - 1], &(*unit)[k]});
  }
  std::sort(changes.begin(), changes.end(),
            [](const Change& a, const Change& b) { return a.after->from.rad < b.after->from.rad; });
  SineMoments::Angle at{0.0, 0.0, 1.0};
  const auto pass = [&](const SineMoments::Angle& to) {
    const SineMoments moments(at, to);
    SineWave neutral;
    for (std::size_t p = 0; p < 3; ++p) {
      sums.line_square_A[p] += square(moments, line[p]);
      neutral.sine += line[p].sine;
      neutral.cosine += line[p].cosine;
      neutral.constant += line[p].constant;
    }
    sums.neutral_square_A += square(moments, neutral);
    at = to;
  };
  for (const Change& change : changes) {
    if (change.after->from.rad > at.rad) pass(change.after->from);
    add(*change.before, -1.0);
    add(*change.after, 1.0);
  }
  pass({kTurn, 0.0, 1.0});
}

}  // namespace emberline::plant
