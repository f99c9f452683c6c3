#include "plant-models/electrical/circuit_stepped.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace emberline::plant {
namespace {
constexpr double kTurn = 2.0 * std::numbers::pi;
constexpr int kSteps = 720;
/// What is switched at an instant is looked at this much behind it; no step is shorter.
constexpr double kBehind_rad = 1e-9;
/// Length of the step behind a cut: nothing that has inertia moves in it.
constexpr double kNoTime_rad = 1e-8;
constexpr double kOpenLine_S = 1e-15;
/// Rounds in which the cores' pieces are sought.
constexpr int kCoreRounds = 8;
/// Rounds in which the zero of a current is sought that was next to nothing at the begin of the step.
constexpr int kHalvings = 16;
/// Behind a cut, as shares of a step; the first two by backward Euler.
constexpr std::array<double, 6> kShortSteps{1.0 / 32, 1.0 / 32, 1.0 / 16, 1.0 / 8, 1.0 / 4, 1.0 / 2};
}  // namespace

void SteppedCircuit::solve(const SourceWaves& source, const SourceImpedance& impedance,
                           std::span<UnitCircuit* const> units, SourceState& state, bool with_lines) {
  with_lines_ = with_lines;
  source_ = source;
  impedance_ = impedance;
  source_state_ = &state;
  units_ = units;
  coupled_ = !impedance.none() || any_open(source.open);
  sums_.assign(units.size(), UnitSums{});
  from_values_.assign(units.size(), UnitValues{});
  to_values_.assign(units.size(), UnitValues{});
  supply_ = {};
  lines_.clear();
  fast_ = impedance.inductance_H > 0.0;
  for (UnitCircuit* unit : units_) {
    unit->set_stepped(true);
    fast_ = fast_ || unit->has_transformer();
  }
  // A bound against a slip of ours: behind this many cuts none is made any more.
  const std::size_t steps_max = kSteps + 400 * (units.size() + 1);
  std::size_t steps = 0;
  double at = 0.0;
  settle(at);
  for (int grid = 1; grid <= kSteps; ++grid) {
    const double until = kTurn * grid / kSteps;
    while (until - at > kBehind_rad) {
      cuts_left_ = ++steps < steps_max;
      if (steps == steps_max) ++gave_up_;
      double to = cuts_left_ ? std::min(until, next_command_rad_) : until;
      rule_ = Branch::Rule::trapezoidal;
      if (fast_ && since_cut_ < kShortSteps.size()) {
        to = std::min(to, at + kShortSteps[since_cut_] * kTurn / kSteps);
        if (since_cut_ < 2) rule_ = Branch::Rule::backward_euler;
        ++since_cut_;
      }
      at = step(at, to);
    }
  }
}

SteppedCircuit::Nodes SteppedCircuit::source_at(double rad) const {
  const double sine = std::sin(rad);
  const double cosine = std::cos(rad);
  Nodes source_V{};
  for (std::size_t p = 0; p < source_.lines; ++p)
    if (!source_.open[p]) source_V[p] = source_.line[p].at(sine, cosine);
  return source_V;
}

void SteppedCircuit::set_source_step(double step_s, bool trapezoidal) {
  const double r = impedance_.resistance_ohm;
  for (std::size_t p = 0; p < source_.lines; ++p) {
    source_A_[p] = 0.0;
    if (source_.open[p]) {
      source_S_[p] = kOpenLine_S;
      continue;
    }
    const bool live = std::any_of(units_.begin(), units_.end(), [p](const UnitCircuit* unit) {
      return unit->connected() && unit->conducts_on(p);
    });
    if (!live) {  // only what leaks flows: no drop worth the name
      source_S_[p] = 1.0;
    } else if (impedance_.inductance_H <= 0.0) {
      source_S_[p] = 1.0 / r;
    } else {
      const double per_step = impedance_.inductance_H / step_s;
      const double before_A = source_state_->current_A[p];
      source_S_[p] = trapezoidal ? 0.5 / (per_step + 0.5 * r) : 1.0 / (per_step + r);
      source_A_[p] =
          source_S_[p] *
          (trapezoidal ? source_state_->voltage_V[p] + before_A * (2.0 * per_step - r) : per_step * before_A);
    }
  }
}

void SteppedCircuit::set_step(double step_s, Branch::Rule rule) {
  for (UnitCircuit* unit : units_) {
    if (!unit->connected()) continue;
    unit->set_step(step_s, rule);
    unit->reduce();
  }
}

void SteppedCircuit::find_nodes(const Nodes& source_V) {
  if (!coupled_) {
    nodes_V_ = source_V;
    return;
  }
  std::array<std::array<double, 3>, 3> matrix{};
  std::array<std::array<double, 1>, 3> right{};
  for (std::size_t p = 0; p < 3; ++p) {
    const bool held = p >= source_.lines || (impedance_.none() && !source_.open[p]);
    matrix[p][p] = held ? 1.0 : source_S_[p];
    right[p][0] = held ? source_V[p] : source_S_[p] * source_V[p] + source_A_[p];
    if (held) continue;
    for (const UnitCircuit* unit : units_) {
      if (!unit->connected()) continue;
      const Form& taken = unit->node_A[p];
      for (std::size_t q = 0; q < 3; ++q) matrix[p][q] += taken.node[q];
      right[p][0] -= taken.constant;
    }
  }
  solve_three(matrix, right);
  nodes_V_ = {right[0][0], right[1][0], right[2][0]};
}

/// Finds the end of a step; the states stay those of its begin.
void SteppedCircuit::try_step(double to_rad, Branch::Rule rule, double step_s) {
  const Nodes source_V = source_at(to_rad);
  if (coupled_) set_source_step(step_s, rule == Branch::Rule::trapezoidal);
  for (int round = 0; round < kCoreRounds; ++round) {
    set_step(step_s, rule);
    find_nodes(source_V);
    bool again = false;
    for (UnitCircuit* unit : units_)
      if (unit->connected()) again = unit->core_disagrees(nodes_V_) || again;
    if (!again) break;
    if (round + 1 == kCoreRounds) ++gave_up_;
  }
  for (std::size_t u = 0; u < units_.size(); ++u)
    if (units_[u]->connected()) to_values_[u] = values_at(*units_[u], nodes_V_);
}

/// What flows and stands just behind an instant, with everything switched that has to be.
void SteppedCircuit::settle(double at_rad) {
  const double look_rad = at_rad + kBehind_rad;
  const std::size_t rounds_max = 20 + 12 * units_.size();
  for (std::size_t round = 0; round < rounds_max; ++round) {
    // The first brings currents that a cut has left over to agree, at whatever voltage; the second tells the
    // voltages they then have.
    for (int time = 0; time < 2; ++time) {
      try_step(at_rad, Branch::Rule::backward_euler, kNoTime_rad / source_.rad_per_s);
      if (time > 0) break;
      note_source(at_rad);
      for (UnitCircuit* unit : units_)
        if (unit->connected()) unit->advance(nodes_V_);
    }
    bool again = false;
    for (UnitCircuit* unit : units_) {
      if (!unit->connected()) continue;
      again = unit->arm(look_rad, nodes_V_) || again;
      again = unit->switch_pairs(look_rad, nodes_V_, round >= 20) || again;
      if (again && round >= 20) break;
    }
    if (!again) break;
    if (round + 1 == rounds_max) ++gave_up_;
  }
  note_source(at_rad);
  note_values();
  note_watched();
  since_cut_ = 0;
  next_command_rad_ = next_command(look_rad);
}

void SteppedCircuit::note_source(double at_rad) {
  if (!coupled_ || impedance_.inductance_H <= 0.0) return;
  const Nodes source_V = source_at(at_rad);
  for (std::size_t p = 0; p < source_.lines; ++p) {
    source_state_->voltage_V[p] = source_V[p] - nodes_V_[p];
    source_state_->current_A[p] = source_S_[p] * source_state_->voltage_V[p] + source_A_[p];
  }
}

/// The end of the step that was tried becomes the begin of the next.
void SteppedCircuit::note_values() {
  from_nodes_V_ = nodes_V_;
  from_values_.swap(to_values_);
  const Nodes& nodes_V = nodes_V_;
  for (UnitCircuit* unit : units_)
    if (unit->connected()) unit->advance(nodes_V);
}

void SteppedCircuit::note_watched() {
  from_watched_.clear();
  for (const UnitCircuit* unit : units_)
    if (unit->connected())
      unit->watch(
          [&](const UnitCircuit::Watched& watched) { from_watched_.push_back(watched.value.at(nodes_V_)); });
}

SteppedCircuit::Crossing SteppedCircuit::first_crossing() {
  Crossing first;
  to_watched_.clear();
  for (std::size_t u = 0; u < units_.size(); ++u) {
    const UnitCircuit& unit = *units_[u];
    if (!unit.connected()) continue;
    unit.watch([&](const UnitCircuit::Watched& watched) {
      const double before = std::min(0.0, from_watched_[to_watched_.size()]);
      const double after = watched.value.at(nodes_V_);
      to_watched_.push_back(after);
      if (after <= 0.0) return;
      if (after <= (watched.current ? unit.tolerance_A() : unit.tolerance_V())) return;
      const double share = before / (before - after);
      if (first.found && share >= first.share) return;
      first = {true, u, watched, share, after};
    });
  }
  return first;
}

double SteppedCircuit::next_command(double after_rad) const {
  double next = kTurn;
  for (const UnitCircuit* unit : units_)
    if (unit->connected()) next = std::min(next, unit->next_command(after_rad));
  return next;
}

/// Goes to an angle, or to the first zero before it. Returns where it has come to.
double SteppedCircuit::step(double from_rad, double to_rad) {
  try_step(to_rad, rule_, (to_rad - from_rad) / source_.rad_per_s);
  Crossing crossing = first_crossing();
  crossing.found = crossing.found && cuts_left_;
  const double reached_rad = crossing.found ? approach(from_rad, to_rad, crossing) : to_rad;
  commit(from_rad, reached_rad);
  const bool commanded = next_command_rad_ <= reached_rad + kBehind_rad;
  if (crossing.found) {
    if (!crossing.watched.arms)
      units_[crossing.unit]->force(crossing.watched.pair, crossing.watched.direction);
    settle(reached_rad);
  } else if (commanded) {
    settle(reached_rad);
  } else {
    from_watched_.swap(to_watched_);
  }
  return reached_rad;
}

double SteppedCircuit::value_of(const Crossing& crossing) const {
  double value = 0.0;
  units_[crossing.unit]->watch([&](const UnitCircuit::Watched& watched) {
    if (watched.pair == crossing.watched.pair && watched.direction == crossing.watched.direction &&
        watched.arms == crossing.watched.arms)
      value = watched.value.at(nodes_V_);
  });
  return value;
}

/// Cuts the step at a zero: false position between the begin, where it is not above, and the end.
double SteppedCircuit::approach(double from_rad, double to_rad, Crossing& crossing) {
  if (crossing.share > 1.0 - 1e-9) return to_rad;
  const UnitCircuit& unit = *units_[crossing.unit];
  const double tolerance = crossing.watched.current ? unit.tolerance_A() : unit.tolerance_V();
  const double length = to_rad - from_rad;
  double high_share = 1.0;
  double high = crossing.value;
  double low_share = 0.0;
  double low = high * crossing.share / (crossing.share - 1.0);
  // A current that has only begun may rise before it falls: a straight line from nothing finds nothing.
  const bool begun = crossing.watched.current && low > -tolerance;
  double share = begun ? 0.5 : crossing.share;
  double reached_rad = to_rad;
  for (int round = 0; round < (begun ? kHalvings : 6); ++round) {
    reached_rad = from_rad + std::max(share * length, 2.0 * kBehind_rad);
    try_step(reached_rad, rule_, (reached_rad - from_rad) / source_.rad_per_s);
    const double value = value_of(crossing);
    const bool near = begun ? value > 0.0 && value <= 0.5 * tolerance : std::abs(value) <= 0.5 * tolerance;
    if (near || share * length <= 2.0 * kBehind_rad) break;
    (value > 0.0 ? high_share : low_share) = share;
    (value > 0.0 ? high : low) = value;
    share =
        begun ? 0.5 * (low_share + high_share) : low_share + (high_share - low_share) * low / (low - high);
  }
  return reached_rad;
}

void SteppedCircuit::note_lines(double from_rad, double to_rad, const std::array<double, 3>& from_line,
                                const std::array<double, 3>& to_line) {
  LineStretch stretch{
      {from_rad, std::sin(from_rad), std::cos(from_rad)}, {to_rad, std::sin(to_rad), std::cos(to_rad)}, {}};
  // The sine and cosine that have the values of both ends.
  const double scale = 1.0 / std::sin(to_rad - from_rad);
  for (std::size_t p = 0; p < 3; ++p)
    stretch.line_A[p] = {scale * (to_line[p] * stretch.from.cosine - from_line[p] * stretch.to.cosine),
                         scale * (from_line[p] * stretch.to.sine - to_line[p] * stretch.from.sine), 0.0};
  lines_.push_back(stretch);
}

void SteppedCircuit::commit(double from_rad, double to_rad) {
  const double length = to_rad - from_rad;
  std::array<double, 3> from_line{};
  std::array<double, 3> to_line{};
  for (std::size_t u = 0; u < units_.size(); ++u) {
    if (writer_ && u == written_unit_)
      writer_->step(from_rad, to_rad, from_values_[u], to_values_[u], from_nodes_V_, nodes_V_);
    if (!units_[u]->connected()) continue;
    sums_[u].add_step(length, from_values_[u], to_values_[u], from_nodes_V_, nodes_V_);
    for (std::size_t p = 0; p < 3; ++p) {
      from_line[p] += from_values_[u].line_A[p];
      to_line[p] += to_values_[u].line_A[p];
    }
  }
  const double half = 0.5 * length;
  const double from_neutral = from_line[0] + from_line[1] + from_line[2];
  const double to_neutral = to_line[0] + to_line[1] + to_line[2];
  for (std::size_t p = 0; p < 3; ++p) {
    supply_.node_square_V[p] += half * (from_nodes_V_[p] * from_nodes_V_[p] + nodes_V_[p] * nodes_V_[p]);
    if (const std::size_t q = (p + 1) % 3; source_.lines == 3) {
      const double from_V = from_nodes_V_[p] - from_nodes_V_[q];
      const double to_V = nodes_V_[p] - nodes_V_[q];
      supply_.line_square_V[p] += half * (from_V * from_V + to_V * to_V);
    }
    supply_.line_square_A[p] += half * (from_line[p] * from_line[p] + to_line[p] * to_line[p]);
  }
  supply_.neutral_square_A += half * (from_neutral * from_neutral + to_neutral * to_neutral);
  if (with_lines_) note_lines(from_rad, to_rad, from_line, to_line);

  note_source(to_rad);
  note_values();
}

}  // namespace emberline::plant
