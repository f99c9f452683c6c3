#include "plant-models/electrical/circuit_crowd.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace emberline::plant {
namespace {
constexpr double kTurn = 2.0 * std::numbers::pi;
constexpr int kSteps = 720;
/// A unit is switched this share of a step behind the zero, where it shows.
constexpr double kBehind_share = 1e-6;
constexpr double kOpenLine_S = 1e-9;
/// Times that a unit may switch in one step.
constexpr int kSwitchesMost = 12;
constexpr int kSettleRounds = 40;
constexpr int kUnitRounds = 20;
/// Of a step's end, however late in it everything is switched.
constexpr double kLeastWeight = 0.02;
/// What switches in a step is noticed at its instant when it is more than this share of all.
constexpr double kNoticed = 0.1;
/// A step is cut so often; what is switched behind that is noticed at its end.
constexpr int kCutsMost = 6;
constexpr double kNoTime_rad = 1e-8;
/// Behind a cut, as shares of a step; the first two by backward Euler, in which nothing rings.
constexpr std::array<double, 6> kShortSteps{1.0 / 32, 1.0 / 32, 1.0 / 16, 1.0 / 8, 1.0 / 4, 1.0 / 2};

/// What a unit takes of its nodes, as far as it grows with their voltages.
double taken_by(const UnitCircuit& unit) {
  return unit.node_A[0].node[0] + unit.node_A[1].node[1] + unit.node_A[2].node[2];
}

double conductance_of(const UnitCircuit& unit) {
  double all_S = 0.0;
  for (std::size_t l = 0; l < unit.legs; ++l)
    if (std::isfinite(unit.leg_ohm[l]) && unit.leg_ohm[l] > 0.0) all_S += 1.0 / unit.leg_ohm[l];
  return all_S;
}

std::array<double, 3> between(const std::array<double, 3>& a, const std::array<double, 3>& b, double share) {
  return {a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]), a[2] + share * (b[2] - a[2])};
}
}  // namespace

void CrowdCircuit::solve(const SourceWaves& source, const SourceImpedance& impedance,
                         std::span<UnitCircuit* const> units, SourceState& state) {
  source_ = source;
  impedance_ = impedance;
  source_state_ = &state;
  units_ = units;
  members_.assign(units.size(), Member{});
  sums_.assign(units.size(), UnitSums{});
  supply_ = {};
  moments_ = {};
  taken_S_ = {};
  taken_A_ = {};
  double all_S = 1e-12;
  for (std::size_t u = 0; u < units_.size(); ++u) {
    UnitCircuit& unit = *units_[u];
    if (!unit.connected()) continue;
    unit.set_stepped(impedance.inductance_H > 0.0);
    unit.set_resistive();
    unit.reduce();
    add_to_nodes(unit, 1.0);
    members_[u].share_of_all = conductance_of(unit);
    all_S += members_[u].share_of_all;
  }
  for (Member& member : members_) member.share_of_all /= all_S;
  since_cut_ = kShortSteps.size();
  settle_all();
  for (int grid = 1; grid <= kSteps; ++grid) {
    const double until = kTurn * grid / kSteps;
    int cuts = 0;
    for (double at = kTurn * (grid - 1) / kSteps; at < until;) {
      double to = until;
      if (since_cut_ < kShortSteps.size()) {
        to = std::min(until, at + kShortSteps[since_cut_] * kTurn / kSteps);
        ++since_cut_;
      }
      at = pass(at, to, cuts < kCutsMost);
      if (since_cut_ == 0) ++cuts;
    }
  }
  for (std::size_t u = 0; u < units_.size(); ++u) {
    if (!units_[u]->connected()) continue;
    count(u, moments_ - members_[u].counted);
    sums_[u].add_peaks(members_[u].peak_A);
  }
}

CrowdCircuit::Nodes CrowdCircuit::source_at(double rad) const {
  Nodes source_V{};
  for (std::size_t p = 0; p < source_.lines; ++p)
    if (!source_.open[p]) source_V[p] = source_.line[p].at(std::sin(rad), std::cos(rad));
  return source_V;
}

void CrowdCircuit::add_to_nodes(const UnitCircuit& unit, double sign) {
  for (std::size_t p = 0; p < 3; ++p) {
    for (std::size_t q = 0; q < 3; ++q) taken_S_[p][q] += sign * unit.node_A[p].node[q];
    taken_A_[p] += sign * unit.node_A[p].constant;
  }
}

/// How much a step's end weighs, so that the current's decay into what is taken comes out exactly: 1/2 where
/// it is slow, 1 where it is over within the step.
double CrowdCircuit::end_weight(std::size_t p, double step_s) const {
  if (since_cut_ <= 2) return 1.0;
  const double decay = step_s / impedance_.inductance_H * (impedance_.resistance_ohm + 1.0 / taken_S_[p][p]);
  if (decay < 1e-3) return 0.5 + decay / 12.0;
  return 1.0 / -std::expm1(-decay) - 1.0 / decay;
}

/// The end of a step of this length, or at 0 what stands there now. `switched_share` of what is taken was
/// switched in it, with `behind_share` of the step still to go.
void CrowdCircuit::find_nodes(double to_rad, double step_s, double switched_share, double behind_share) {
  source_to_V_ = source_at(to_rad);
  std::array<std::array<double, 3>, 3> matrix{};
  std::array<std::array<double, 1>, 3> right{};
  for (std::size_t p = 0; p < 3; ++p) {
    const bool held = p >= source_.lines || (impedance_.none() && !source_.open[p]);
    source_A_[p] = 0.0;
    if (held || source_.open[p]) {
      source_S_[p] = held ? 1.0 : kOpenLine_S;
    } else {
      // At the begin, and where next to nothing is taken, the inductance counts as nothing.
      const bool idle = taken_S_[p][p] <= 0.0 || step_s <= 0.0;
      if (idle || impedance_.inductance_H <= 0.0) {
        source_S_[p] = 1.0 / std::max(impedance_.resistance_ohm, 1e-6);
      } else {
        const double weight = std::max(
            (1.0 - switched_share) * end_weight(p, step_s) + switched_share * behind_share, kLeastWeight);
        const double begin = (1.0 - weight) / weight;
        const double per_step = impedance_.inductance_H / (step_s * weight);
        const double before_A = source_state_->current_A[p];
        source_S_[p] = 1.0 / (per_step + impedance_.resistance_ohm);
        source_A_[p] = source_S_[p] * ((per_step - begin * impedance_.resistance_ohm) * before_A +
                                       begin * (source_from_V_[p] - from_V_[p]));
      }
    }
    matrix[p][p] = source_S_[p];
    right[p][0] = source_S_[p] * source_to_V_[p] + source_A_[p];
    if (held) continue;
    for (std::size_t q = 0; q < 3; ++q) matrix[p][q] += taken_S_[p][q];
    right[p][0] -= taken_A_[p];
  }
  solve_three(matrix, right);
  to_V_ = {right[0][0], right[1][0], right[2][0]};
}

/// What all units take at the step's end.
CrowdCircuit::Nodes CrowdCircuit::drawn() const {
  Nodes drawn_A{};
  for (std::size_t p = 0; p < 3; ++p)
    drawn_A[p] =
        taken_S_[p][0] * to_V_[0] + taken_S_[p][1] * to_V_[1] + taken_S_[p][2] * to_V_[2] + taken_A_[p];
  return drawn_A;
}

void CrowdCircuit::note_watched(std::size_t unit) {
  Member& member = members_[unit];
  member.watched_count = 0;
  units_[unit]->watch([&](const UnitCircuit::Watched& watched) {
    const std::size_t slot = member.watched_count++;
    member.watched[slot] = watched.value;
    member.current_of[slot] = watched.current ? watched.pair : 3;
    member.held_A[slot] = watched.held_A;
  });
}

/// Begins the cycle: all units together are switched until they agree.
void CrowdCircuit::settle_all() {
  const double look_rad = kBehind_share * kTurn / kSteps;
  // What flows in an inductance as the cycle begins is what flowed as the last one ended.
  const double no_time_s = impedance_.inductance_H > 0.0 ? kNoTime_rad / source_.rad_per_s : 0.0;
  find_nodes(look_rad, no_time_s);
  for (int round = 0; round < kSettleRounds; ++round) {
    bool again = false;
    for (UnitCircuit* unit : units_) {
      if (!unit->connected()) continue;
      again = unit->arm(look_rad, to_V_) || again;
      add_to_nodes(*unit, -1.0);
      if (unit->switch_pairs(look_rad, to_V_, round >= 20)) {
        unit->reduce();
        again = true;
      }
      add_to_nodes(*unit, 1.0);
    }
    if (!again) break;
    if (round + 1 == kSettleRounds) ++gave_up_;
    find_nodes(look_rad, no_time_s);
  }
  from_V_ = to_V_;
  source_from_V_ = source_at(0.0);
  for (std::size_t u = 0; u < units_.size(); ++u) {
    if (!units_[u]->connected()) continue;
    note_watched(u);
    members_[u].next_command_rad = units_[u]->next_command(look_rad);
  }
}

/// The share of the step at which the unit is to be switched next; above 1 if not in this step. On the way
/// the peaks of the currents are noted.
double CrowdCircuit::switches_at(std::size_t unit, double from_share, double from_rad, double length) {
  Member& member = members_[unit];
  double first = 2.0;
  if (member.next_command_rad < kTurn && member.next_command_rad <= from_rad + length)
    first = std::max(from_share, (member.next_command_rad - from_rad) / length);
  for (std::size_t w = 0; w < member.watched_count; ++w) {
    const double after = member.watched[w].at(to_V_);
    if (const std::size_t pair = member.current_of[w]; pair < 3 && first > 1.0)
      member.peak_A[pair] = std::max(member.peak_A[pair], member.held_A[w] - after);
    const double least = member.current_of[w] < 3 ? units_[unit]->tolerance_A() : units_[unit]->tolerance_V();
    if (after <= least) continue;
    const double before = member.watched[w].at(from_V_);
    const double share = before < least ? (least - before) / (after - before) : 0.0;
    first = std::min(first, std::max(from_share, share));
  }
  return first;
}

void CrowdCircuit::switch_unit(std::size_t u, double from_rad, double length) {
  UnitCircuit& unit = *units_[u];
  Member& member = members_[u];
  double counted_share = 0.0;
  const double before_S = taken_by(unit);
  NodeMoments counted = moments_;
  for (int time = 0; time < kSwitchesMost; ++time) {
    const double share = switches_at(u, counted_share, from_rad, length);
    if (share > 1.0) break;
    if (time + 1 == kSwitchesMost) ++gave_up_;
    const double look = std::min(1.0, share + kBehind_share);
    const Nodes look_V = between(from_V_, to_V_, look);
    const double look_rad = from_rad + look * length;
    // What it was until here.
    counted.add((look - counted_share) * length, between(from_V_, to_V_, counted_share), look_V);
    count(u, counted - member.counted);
    member.counted = counted;
    counted_share = look;
    add_to_nodes(unit, -1.0);
    for (int round = 0; round < kUnitRounds; ++round) {
      const bool armed = unit.arm(look_rad, look_V);
      const bool changed = unit.switch_pairs(look_rad, look_V, round >= 10);
      if (changed) unit.reduce();
      if (!armed && !changed) break;
      if (round + 1 == kUnitRounds) ++gave_up_;
    }
    add_to_nodes(unit, 1.0);
    note_watched(u);
    member.next_command_rad = unit.next_command(look_rad);
    for (std::size_t p = 0; p < unit.pairs; ++p)
      member.peak_A[p] = std::max(member.peak_A[p], std::abs(unit.pair_A[p].at(look_V)));
  }
  if (counted_share > 0.0) switched_.push_back({u, counted_share, std::abs(taken_by(unit) - before_S)});
}

void CrowdCircuit::count(std::size_t unit, const NodeMoments& moments) {
  sums_[unit].add_moments(*units_[unit], moments);
}

/// Where in the step the busbar has to notice what is switched: at the first instant, when that is much of
/// the whole; at the step's end otherwise.
std::optional<double> CrowdCircuit::cut_at(double from_rad, double length) {
  if (impedance_.inductance_H <= 0.0) return std::nullopt;
  double first = 1.0;
  double switching = 0.0;
  for (std::size_t u = 0; u < units_.size(); ++u) {
    if (!units_[u]->connected()) continue;
    const double share = switches_at(u, 0.0, from_rad, length);
    if (share > 1.0) continue;
    switching += members_[u].share_of_all;
    first = std::min(first, share);
  }
  if (switching <= kNoticed) return std::nullopt;
  return std::min(1.0, first + kBehind_share);
}

/// One step, to its end or to where it has to be cut, and where that is.
double CrowdCircuit::pass(double from_rad, double to_rad, bool may_cut) {
  find_nodes(to_rad, (to_rad - from_rad) / source_.rad_per_s);
  const auto cut = may_cut ? cut_at(from_rad, to_rad - from_rad) : std::nullopt;
  if (cut) to_rad = from_rad + *cut * (to_rad - from_rad);
  const double length = to_rad - from_rad;
  const double step_s = length / source_.rad_per_s;
  if (cut) find_nodes(to_rad, step_s);
  switched_.clear();
  const double before_S = taken_by_all();
  Nodes drawn_A = drawn();
  std::optional<UnitValues> from_values;
  if (writer_ && units_[written_unit_]->connected()) from_values = values_at(*units_[written_unit_], from_V_);
  for (std::size_t u = 0; u < units_.size(); ++u)
    if (units_[u]->connected() && switches_at(u, 0.0, from_rad, length) <= 1.0)
      switch_unit(u, from_rad, length);
  if (!cut && !switched_.empty()) {
    find_nodes_switched(to_rad, step_s, before_S);
    drawn_A = drawn();
  }

  if (writer_) {
    const UnitValues to_values = from_values ? values_at(*units_[written_unit_], to_V_) : UnitValues{};
    writer_->step(from_rad, to_rad, from_values.value_or(UnitValues{}), to_values, from_V_, to_V_);
  }
  NodeMoments end = moments_;
  end.add(length, from_V_, to_V_);
  for (const Switched& one : switched_) {
    NodeMoments rest;
    rest.add((1.0 - one.share) * length, between(from_V_, to_V_, one.share), to_V_);
    members_[one.unit].counted = end - rest;
  }
  for (std::size_t p = 0; p < 3; ++p) {
    const auto passed = [&](std::size_t k) { return end.products[k] - moments_.products[k]; };
    supply_.node_square_V[p] += passed(p);
    if (source_.lines == 3) supply_.line_square_V[p] += passed(p) + passed((p + 1) % 3) - 2.0 * passed(3 + p);
  }
  moments_ = end;
  const double neutral_A = drawn_A[0] + drawn_A[1] + drawn_A[2];
  for (std::size_t p = 0; p < 3; ++p) {
    supply_.line_square_A[p] += length * drawn_A[p] * drawn_A[p];
    source_state_->current_A[p] = source_.open[p] ? 0.0 : drawn_A[p];
  }
  supply_.neutral_square_A += length * neutral_A * neutral_A;
  source_from_V_ = source_to_V_;
  if (cut) {
    find_nodes(to_rad, kNoTime_rad / source_.rad_per_s);  // the source's currents do not jump
    since_cut_ = 0;
  }
  from_V_ = to_V_;
  return to_rad;
}

void CrowdCircuit::find_nodes_switched(double to_rad, double step_s, double before_S) {
  double switched_S = 0.0;
  double behind_S = 0.0;
  for (const Switched& one : switched_) {
    switched_S += one.change_S;
    behind_S += one.change_S * (1.0 - one.share);
  }
  const double most_S = std::max({before_S, taken_by_all(), switched_S});
  if (switched_S > 0.0)
    find_nodes(to_rad, step_s, switched_S / most_S, behind_S / switched_S);
  else
    find_nodes(to_rad, step_s);
}

}  // namespace emberline::plant
