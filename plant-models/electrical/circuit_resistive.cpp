#include "plant-models/electrical/circuit_resistive.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace emberline::plant {
namespace {
constexpr double kTurn = 2.0 * std::numbers::pi;
/// How far behind an instant the circuit is looked at that follows it; the order of an instant's error.
constexpr double kBehind_rad = 1e-10;
/// Of a supply line that is interrupted: enough to give its busbar a voltage when nothing else does.
constexpr double kOpenLine_S = 1e-9;

SineMoments::Angle angle(double rad) {
  return rad == kTurn ? SineMoments::Angle{kTurn, 0.0, 1.0}
                      : SineMoments::Angle{rad, std::sin(rad), std::cos(rad)};
}
}  // namespace

void ResistiveCircuit::solve(const SourceWaves& source, double source_ohm,
                             std::span<UnitCircuit* const> units) {
  source_ = source;
  source_ohm_ = source_ohm;
  units_ = units;
  coupled_ = source_ohm > 0.0 || any_open(source.open);
  sums_.assign(units.size(), UnitSums{});
  supply_ = {};
  lines_.clear();
  for (UnitCircuit* unit : units_) {
    unit->set_stepped(false);
    unit->set_resistive();
    unit->reduce();
  }
  // Every stretch ends at a change behind its start; the bound only keeps a slip of ours from never ending.
  const std::size_t stretches_max = 200 * (units.size() + 1);
  SineMoments::Angle at = angle(0.0);
  find_nodes();
  for (std::size_t stretch = 0; stretch < stretches_max && at.rad < kTurn; ++stretch) {
    settle(at.rad + kBehind_rad);
    const bool last = stretch + 1 >= stretches_max;
    const double until = last ? kTurn : next_change(at.rad + kBehind_rad);
    if (last) ++gave_up_;
    const SineMoments::Angle to = angle(until);
    pass(at, to);
    at = to;
  }
}

std::array<double, 3> ResistiveCircuit::nodes_at(double rad) const {
  const double sine = std::sin(rad);
  const double cosine = std::cos(rad);
  return {nodes_[0].at(sine, cosine), nodes_[1].at(sine, cosine), nodes_[2].at(sine, cosine)};
}

/// Sum of what the units take from a node = what the source gives, for each node.
void ResistiveCircuit::find_nodes() {
  if (!coupled_) {
    nodes_ = source_.line;
    return;
  }
  std::array<std::array<double, 3>, 3> matrix{};
  std::array<std::array<double, 3>, 3> right{};
  for (std::size_t p = 0; p < 3; ++p) {
    const bool held = p >= source_.lines || (source_ohm_ == 0.0 && !source_.open[p]);
    const double source_S = held ? 1.0 : (source_.open[p] ? kOpenLine_S : 1.0 / source_ohm_);
    const SineWave& wave = source_.line[p];
    matrix[p][p] = source_S;
    if (!source_.open[p]) right[p] = {source_S * wave.sine, source_S * wave.cosine, 0.0};
    if (held) continue;
    for (const UnitCircuit* unit : units_) {
      const Form& line = unit->node_A[p];
      for (std::size_t q = 0; q < 3; ++q) matrix[p][q] += line.node[q];
      right[p][2] -= line.constant;
    }
  }
  solve_three(matrix, right);
  for (std::size_t p = 0; p < 3; ++p) nodes_[p] = {right[p][0], right[p][1], right[p][2]};
}

/// Finds what conducts behind an instant: all pairs that disagree change at once; should that go round in
/// circles, one at a time.
void ResistiveCircuit::settle(double at_rad) {
  const std::size_t rounds_max = 20 + 12 * units_.size();
  for (std::size_t round = 0; round < rounds_max; ++round) {
    const auto nodes_V = nodes_at(at_rad);
    bool again = false;
    for (UnitCircuit* unit : units_) {
      if (!unit->connected()) continue;
      again = unit->arm(at_rad, nodes_V) || again;
      const bool one = round >= 20;
      if (!unit->switch_pairs(at_rad, nodes_V, one)) continue;
      unit->reduce();
      again = true;
      if (one) break;
    }
    if (!again) return;
    find_nodes();
  }
  ++gave_up_;
}

double ResistiveCircuit::next_change(double after_rad) const {
  double next = kTurn;
  for (const UnitCircuit* unit : units_) {
    if (!unit->connected()) continue;
    next = std::min(next, unit->next_command(after_rad));
    unit->watch([&](const UnitCircuit::Watched& watched) {
      next = first_zero(wave_of(watched.value, nodes_), after_rad, next);
    });
  }
  return next;
}

void ResistiveCircuit::pass(const SineMoments::Angle& from, const SineMoments::Angle& to) {
  std::array<Form, 3> line_A{};
  for (std::size_t u = 0; u < units_.size(); ++u) {
    const UnitCircuit& unit = *units_[u];
    if (writer_ && u == written_unit_) writer_->stretch(unit, nodes_, to.rad);
    if (!unit.connected()) continue;
    sums_[u].add_stretch(unit, nodes_, from, to);
    for (std::size_t p = 0; p < 3; ++p) line_A[p] = line_A[p] + unit.line_A[p];
  }
  const SineMoments moments(from, to);
  LineStretch stretch{from, to, {}};
  SineWave neutral;
  for (std::size_t p = 0; p < 3; ++p) {
    const SineWave& node = nodes_[p];
    const SineWave line = wave_of(line_A[p], nodes_);
    supply_.node_square_V[p] += moments.square(node.sine, node.cosine, node.constant);
    if (const SineWave& next = nodes_[(p + 1) % 3]; source_.lines == 3)
      supply_.line_square_V[p] +=
          moments.square(node.sine - next.sine, node.cosine - next.cosine, node.constant - next.constant);
    supply_.line_square_A[p] += moments.square(line.sine, line.cosine, line.constant);
    neutral = {neutral.sine + line.sine, neutral.cosine + line.cosine, neutral.constant + line.constant};
    stretch.line_A[p] = line;
  }
  supply_.neutral_square_A += moments.square(neutral.sine, neutral.cosine, neutral.constant);
  lines_.push_back(stretch);
}

}  // namespace emberline::plant
