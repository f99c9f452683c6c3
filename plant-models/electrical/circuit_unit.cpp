#include "plant-models/electrical/circuit_unit.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace emberline::plant {
namespace {
constexpr double kPi = std::numbers::pi;
constexpr double kTurn = 2.0 * kPi;
/// Keeps nodes defined that nothing holds.
constexpr double kLeastLeakage_S = 1e-9;
/// Of a voltage that is taken for zero.
constexpr double kZeroShare = 1e-6;
/// Likewise, where several pairs with next to nothing in them would switch each other in circles.
constexpr double kRoundingShare = 1e-8;

double radians(double angle_deg) { return angle_deg / 180.0 * kPi; }
std::size_t slot(int direction) { return direction > 0 ? 0 : 1; }
}  // namespace

SourceWaves source_waves(const SupplyParameters& supply, const SupplyState& state) {
  SourceWaves waves;
  const bool three = supply.system == System::three_phase;
  waves.lines = three ? 3 : 1;
  waves.rad_per_s = kTurn * state.frequency_Hz;
  const double peak_V = std::numbers::sqrt2 * supply.voltage_V / (three ? std::numbers::sqrt3 : 1.0);
  for (std::size_t p = 0; p < waves.lines; ++p) {
    const double behind_rad = kTurn / 3.0 * static_cast<double>(supply.reversed ? (3 - p) % 3 : p);
    const double own_V = peak_V * supply.phase_share[p] * state.share[p];
    waves.line[p] = {own_V * std::cos(behind_rad), -own_V * std::sin(behind_rad), 0.0};
    waves.open[p] = state.open[p];
  }
  return waves;
}

UnitCircuit::UnitCircuit(const SupplyParameters& supply, const LoadParameters& load) : load_(&load) {
  const bool three = supply.system == System::three_phase;
  const double phase_V = supply.voltage_V / (three ? std::numbers::sqrt3 : 1.0);
  legs = pairs = load.legs();
  two_controlled_ = load.controlled_legs == 2;
  nominal_V_ = phase_V;
  switch (load.connection) {
    case Connection::single_phase:
      from_[0] = three ? static_cast<std::size_t>(load.across) % 3 : 0;
      if (three && load.across >= Across::l1_l2) {
        to_[0] = (from_[0] + 1) % 3;
        nominal_V_ = supply.voltage_V;
      }
      break;
    case Connection::star_4_wire:
      break;
    case Connection::star_3_wire:
      shape_ = Shape::star;
      break;
    case Connection::delta:
      shape_ = Shape::delta;
      nominal_V_ = supply.voltage_V;
      break;
    case Connection::open_delta:
      to_ = {1, 2, 0};
      nominal_V_ = supply.voltage_V;
      break;
  }
  nominal_rad_per_s_ = kTurn * supply.frequency_Hz;
  leakage_S_ = std::max(kLeastLeakage_S, load.leakage_A / nominal_V_);
  // Common practice: what a thyristor needs to stay on is more than what its partners leak.
  holding_A_ = 3.0 * leakage_S_ * std::numbers::sqrt2 * supply.voltage_V;
  voltage_scale_V_ = std::numbers::sqrt2 * supply.voltage_V;
  for (std::size_t l = 0; l < legs; ++l) {
    branches_[l] = Branch(load, l, 1.0, nominal_V_, nominal_rad_per_s_);
    has_memory_ = has_memory_ || branches_[l].has_memory();
  }
}

UnitState UnitCircuit::rest() const {
  UnitState state;
  for (std::size_t l = 0; l < legs; ++l) state.branches[l] = branches_[l].rest();
  return state;
}

double UnitCircuit::reference_rad(std::size_t pair, const SourceWaves& source) const {
  SineWave wave = source.line[from_[pair]];
  if (to_[pair] != kNeutral) {
    wave.sine -= source.line[to_[pair]].sine;
    wave.cosine -= source.line[to_[pair]].cosine;
  }
  return -std::atan2(wave.cosine, wave.sine);
}

void UnitCircuit::begin_cycle(const UnitState& state, const Conduction& command, const SourceWaves& source) {
  connected_ = command.connected;
  bursting_ = state.bursting;
  late_ = state.late;
  for (std::size_t p = 0; p < pairs; ++p) {
    pairs_[p].direction = state.direction[p];
    pairs_[p].armed = state.armed[p];
    pairs_[p].armed_from_rad = -1.0;
    pairs_[p].watched_sign = 0;
  }
  for (std::size_t l = 0; l < legs; ++l) {
    leg_ohm[l] = leg_resistance_ohm(*load_, l, command.element_degC, command.legs[l]);
    branches_[l] = Branch(*load_, l, leg_ohm[l], nominal_V_, nominal_rad_per_s_);
    branches_[l].set_state(state.branches[l]);
  }
  command_pairs(command, source);
  command_burst(command);
}

void UnitCircuit::command_pairs(const Conduction& command, const SourceWaves& source) {
  const double firing = radians(std::clamp(command.firing_angle_deg, 0.0, 180.0));
  first_rad_ = command.first_half_deg ? radians(std::clamp(*command.first_half_deg, 0.0, 180.0)) : 0.0;
  zero_crossing_ = firing == 0.0;
  for (std::size_t p = 0; p < pairs; ++p) {
    const LegState& leg = command.legs[p];
    PairCircuit& pair = pairs_[p];
    pair.shorted = {leg.forward_shorted, leg.backward_shorted};
    pair.broken = {leg.forward_open && !leg.forward_shorted, leg.backward_open && !leg.backward_shorted};
    pair.isolated = !command.connected || leg.fuse_open;
    pair.closed =
        !pair.isolated && ((two_controlled_ && p == 2) || (leg.forward_shorted && leg.backward_shorted));
    if (pair.isolated) pair.direction = 0;
    std::optional<double> first;
    if (command.first_half_deg) first = first_rad_;
    pair.gate = Gate(reference_rad(p, source), zero_crossing_ ? kPi : firing,
                     three_wire() ? kTurn / 3.0 : 0.0, zero_crossing_ ? std::nullopt : first);
    if (pair.isolated || firing > 0.0) pair.armed = pair.armed && !pair.isolated && firing >= kPi;
  }
}

void UnitCircuit::command_burst(const Conduction& command) {
  arms_from_rad_ = 0.0;
  disarms_at_rad_ = std::numeric_limits<double>::infinity();
  const bool on = connected_ && zero_crossing_;
  if (on && !bursting_ && late_ && two_controlled_) arms_from_rad_ = radians(45.0);
  if (!on) {
    disarms_at_rad_ = 0.0;
    // By turns the burst ends at the first zero of a current behind the end of its last cycle, or 60 degrees
    // later. With two controlled lines it begins 60 degrees later as well: their zeros are not 60 degrees
    // apart.
    const bool ends = connected_ && bursting_ && command.firing_angle_deg >= 180.0 && three_wire();
    if (ends && late_) disarms_at_rad_ = radians(two_controlled_ ? 45.0 : 30.0);
    if (ends) late_ = !late_;
  }
  bursting_ = on;
}

UnitState UnitCircuit::state() const {
  UnitState state;
  for (std::size_t p = 0; p < pairs; ++p) {
    state.direction[p] = pairs_[p].direction;
    state.armed[p] = pairs_[p].armed && bursting_;
  }
  state.bursting = bursting_;
  state.late = late_;
  for (std::size_t l = 0; l < legs; ++l) state.branches[l] = branches_[l].state();
  return state;
}

bool UnitCircuit::waits_in_couples() const {
  if (shape_ == Shape::own_branches) return false;
  return std::none_of(pairs_.begin(), pairs_.end(), [&](const PairCircuit& pair) { return conducts(pair); });
}

bool UnitCircuit::awaits_zero(std::size_t pair, bool couples) const {
  const PairCircuit& one = pairs_[pair];
  const PairCircuit& other = pairs_[partner(pair, couples)];
  return !one.isolated && !other.isolated && (one.waits || other.waits);
}

Form UnitCircuit::awaited_V(std::size_t pair, bool couples) const {
  return couples ? pair_V[pair] - pair_V[partner(pair, couples)] : pair_V[pair];
}

/// What is fired only changes with the angle and when a pair is armed: looked up once for many steps.
void UnitCircuit::refresh(double at_rad) {
  for (std::size_t p = 0; p < pairs; ++p) {
    PairCircuit& pair = pairs_[p];
    const bool armed = pair.armed && at_rad >= pair.armed_from_rad && at_rad < disarms_at_rad_;
    for (const int direction : {1, -1})
      pair.fired[slot(direction)] =
          armed || pair.shorted[slot(direction)] || pair.gate.permits(direction, at_rad);
    pair.waits = zero_crossing_ && !pair.armed && !pair.isolated && !pair.closed && at_rad >= arms_from_rad_;
  }
}

double UnitCircuit::drop_V(const PairCircuit& pair, int direction) const {
  return pair.closed || pair.shorted[slot(direction)] ? 0.0 : load_->thyristor_drop_V;
}

double UnitCircuit::next_command(double after_rad) const {
  double next = kTurn;
  const auto sooner = [&](double rad) {
    if (rad > after_rad) next = std::min(next, rad);
  };
  sooner(arms_from_rad_);
  sooner(disarms_at_rad_);
  for (std::size_t p = 0; p < pairs; ++p) {
    if (pairs_[p].isolated || pairs_[p].closed) continue;
    sooner(pairs_[p].armed_from_rad);
    next = std::min(next, pairs_[p].gate.next_edge(after_rad));
  }
  return next;
}

int UnitCircuit::wanted(std::size_t index, const std::array<double, 3>& nodes_V, double slack_V) const {
  const PairCircuit& pair = pairs_[index];
  if (pair.isolated) return 0;
  if (pair.closed) return pair_A[index].at(nodes_V) < 0.0 ? -1 : 1;
  if (pair.direction != 0) {
    const double current_A = pair.direction * pair_A[index].at(nodes_V);
    const double slack_A = slack_V * branches_[0].admittance_S(nominal_rad_per_s_);
    return current_A < least_A(pair) - tolerance_A() - slack_A ? 0 : pair.direction;
  }
  const double voltage_V = pair_V[index].at(nodes_V);
  for (const int direction : {1, -1})
    if (direction * voltage_V > drop_V(pair, direction) + tolerance_V() + slack_V &&
        may_conduct(pair, direction))
      return direction;
  return 0;
}

double UnitCircuit::nominal_flux_Vs() const { return std::numbers::sqrt2 * nominal_V_ / nominal_rad_per_s_; }

double UnitCircuit::tolerance_V() const { return stepped_ ? kZeroShare * voltage_scale_V_ : 0.0; }

double UnitCircuit::tolerance_A() const {
  return stepped_ ? tolerance_V() * branches_[0].admittance_S(nominal_rad_per_s_) : 0.0;
}

/// Lines that conduct two by two end together, and a zero that is hit only nearly must not leave the second
/// one on. Elsewhere what is cut off early would show as a spike across a transformer.
double UnitCircuit::least_A(const PairCircuit& pair) const {
  if (fired(pair, pair.direction)) return 0.0;
  return shape_ == Shape::own_branches ? holding_A_ : std::max(holding_A_, 2.0 * tolerance_A());
}

int UnitCircuit::conducting() const {
  int count = 0;
  for (std::size_t p = 0; p < pairs; ++p) count += !pairs_[p].isolated && conducts(pairs_[p]) ? 1 : 0;
  return count;
}

bool UnitCircuit::conducts_on(std::size_t node) const {
  if (shape_ != Shape::own_branches) return conducting() >= 2 && conducts(pairs_[node]);
  for (std::size_t p = 0; p < pairs; ++p)
    if (conducts(pairs_[p]) && (from_[p] == node || to_[p] == node)) return true;
  return false;
}

void UnitCircuit::force(std::size_t pair, int direction) {
  pairs_[pair].direction = direction;
  if (shape_ == Shape::own_branches) branches_[pair].switched(direction != 0);
}

bool UnitCircuit::switch_pairs(double at_rad, const std::array<double, 3>& nodes_V, bool one) {
  refresh(at_rad);
  bool changed = false;
  std::array<int, 3> next{};
  const double slack_V = one ? kRoundingShare * voltage_scale_V_ : 0.0;
  for (std::size_t p = 0; p < pairs; ++p) next[p] = wanted(p, nodes_V, slack_V);
  for (std::size_t p = 0; p < pairs; ++p) {
    PairCircuit& pair = pairs_[p];
    if (next[p] == pair.direction || (one && changed)) continue;
    pair.direction = next[p];
    if (pair.closed) continue;  // the same circuit
    changed = true;
    if (shape_ == Shape::own_branches) branches_[p].switched(pair.direction != 0);
  }
  return changed;
}

bool UnitCircuit::arm(double at_rad, const std::array<double, 3>& nodes_V) {
  if (!zero_crossing_ || at_rad < arms_from_rad_) return false;
  bool changed = false;
  for (std::size_t p = 0; p < pairs; ++p)
    if (!pairs_[p].armed && !pairs_[p].isolated && !pairs_[p].closed && pairs_[p].direction != 0)
      changed = pairs_[p].armed = true;
  refresh(at_rad);
  const bool couples = waits_in_couples();
  for (std::size_t p = 0; p < pairs; ++p) {
    PairCircuit& pair = pairs_[p];
    if (!awaits_zero(p, couples)) {
      pair.watched_sign = 0;
      continue;
    }
    const double voltage_V = awaited_V(p, couples).at(nodes_V);
    // Voltages of couples are watched as 2 and -2: they are not those of the pairs.
    const int sign = (voltage_V > 0.0 ? 1 : -1) * (couples ? 2 : 1);
    const bool passed = pair.watched_sign == -sign || std::abs(voltage_V) <= kZeroShare * voltage_scale_V_;
    pair.watched_sign = sign;
    if (!passed) continue;
    for (PairCircuit* each : {&pair, &pairs_[partner(p, couples)]})
      if (each->waits) {
        each->armed = changed = true;
        each->armed_from_rad = at_rad + first_rad_;
      }
  }
  return changed;
}

void UnitCircuit::set_resistive() {
  for (std::size_t l = 0; l < legs; ++l) {
    leg_S_[l] = branches_[l].conductance_S();
    leg_source_A_[l] = 0.0;
  }
}

void UnitCircuit::set_step(double step_s, Branch::Rule rule) {
  const bool flows = conducting() >= 2;
  for (std::size_t l = 0; l < legs; ++l) {
    bool live = conducts(pairs_[l]);
    if (shape_ != Shape::own_branches) live = flows && (live || shape_ == Shape::delta);
    const auto companion = branches_[l].companion(step_s, rule, live);
    leg_S_[l] = companion.conductance_S;
    leg_source_A_[l] = companion.current_A;
  }
}

bool UnitCircuit::core_disagrees(const std::array<double, 3>& nodes_V) {
  bool changed = false;
  for (std::size_t l = 0; l < legs; ++l)
    changed = branches_[l].core_disagrees(leg_V[l].at(nodes_V)) || changed;
  return changed;
}

void UnitCircuit::advance(const std::array<double, 3>& nodes_V) {
  for (std::size_t l = 0; l < legs; ++l) branches_[l].advance(leg_V[l].at(nodes_V));
}

}  // namespace emberline::plant
