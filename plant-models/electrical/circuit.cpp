#include "plant-models/electrical/circuit.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace emberline::plant {
namespace {
/// Inputs that differ by less are the same.
constexpr double kSameShare = 1e-6;
constexpr double kSame_deg = 1e-6;
/// Cycles that are remembered: the patterns of a burst.
constexpr std::size_t kMemories = 8;
/// From more resistive loads than this on none of them is looked at singly.
constexpr std::size_t kCrowd = 16;

bool same_angle(double a, double b) {
  if ((a == 0.0) != (b == 0.0)) return false;
  return std::abs(a - b) <= kSame_deg;
}

bool same_switching(const UnitState& a, const UnitState& b) {
  return a.direction == b.direction && a.armed == b.armed && a.bursting == b.bursting && a.late == b.late;
}

/// A cycle that ends as it began but for this is taken to repeat itself. An element that warms up changes its
/// resistance in steps of this order, which should not set inductances moving again.
constexpr double kSettledShare = 1e-5;
bool same_value(double a, double b, double scale, double share = kSameShare) {
  return std::abs(a - b) <= share * scale;
}
}  // namespace

Circuit::Circuit(const SupplyParameters& supply, const std::vector<const LoadParameters*>& loads,
                 bool with_lines)
    : supply_(supply), loads_(loads), with_lines_(with_lines), stepped_(supply.inductance_H > 0.0) {
  units_.reserve(loads.size());
  for (const auto* load : loads) {
    units_.emplace_back(supply, *load);
    stepped_ = stepped_ || units_.back().has_memory();
    begin_.push_back(units_.back().rest());
  }
  for (auto& unit : units_) pointers_.push_back(&unit);
  const bool inductive =
      std::any_of(units_.begin(), units_.end(), [](const UnitCircuit& unit) { return unit.has_memory(); });
  if (stepped_) solver_ = Solver::stepped;
  if (!inductive && units_.size() > kCrowd) solver_ = Solver::crowd;
  end_ = begin_;
}

void Circuit::set_begin(const std::vector<UnitState>& states) {
  begin_ = states;
  end_ = states;
}

void Circuit::next_cycle() {
  begin_ = end_;
  source_begin_ = source_end_;
}

bool Circuit::same_commands(const Memory& memory, const std::vector<const Conduction*>& commands) const {
  for (std::size_t u = 0; u < commands.size(); ++u) {
    const Conduction& now = *commands[u];
    const Conduction& then = memory.commands[u];
    if (now.connected != then.connected || now.first_half_deg != then.first_half_deg ||
        now.legs != then.legs || !same_angle(now.firing_angle_deg, then.firing_angle_deg))
      return false;
    if (now.element_degC == then.element_degC) continue;
    for (std::size_t l = 0; l < units_[u].legs; ++l) {
      const double then_ohm = memory.resistances_ohm[u][l];
      const double now_ohm = leg_resistance_ohm(*loads_[u], l, now.element_degC, now.legs[l]);
      if (now_ohm != then_ohm && !same_value(now_ohm, then_ohm, then_ohm)) return false;
    }
  }
  return true;
}

bool Circuit::same_begin(const Memory& memory) const {
  for (std::size_t u = 0; u < begin_.size(); ++u)
    if (!same_switching(begin_[u], memory.begin[u])) return false;
  return true;
}

const Circuit::Memory* Circuit::remembered(const std::vector<const Conduction*>& commands) {
  for (std::size_t m = 0; m < memories_.size(); ++m) {
    const Memory& memory = memories_[m];
    // With inductances only a cycle that repeats itself is sure to begin as this one does.
    if (stepped_ && (m > 0 || !memory.settled)) break;
    if (!same_begin(memory) || !same_commands(memory, commands)) continue;
    if (m > 0) std::swap(memories_[0], memories_[m]);
    return &memories_[0];
  }
  return nullptr;
}

const Circuit::Answer& Circuit::solve(const SupplyState& supply,
                                      const std::vector<const Conduction*>& commands) {
  assert(commands.size() == units_.size());
  if (memories_of_ != supply) memories_.clear();
  memories_of_ = supply;
  if (const Memory* memory = remembered(commands)) {
    end_ = stepped_ ? begin_ : memory->end;
    source_end_ = source_begin_;
    settled_ = memory->settled;
    return memory->answer;
  }
  if (memories_.size() >= (stepped_ ? 1 : kMemories)) {
    memories_.push_front(std::move(memories_.back()));
    memories_.pop_back();
  } else {
    memories_.emplace_front();
  }
  Memory& memory = memories_.front();
  run(supply, commands, memory, nullptr, 0);
  memory.answer.version = ++versions_;
  end_ = memory.end;
  settled_ = memory.settled;
  return memory.answer;
}

void Circuit::run(const SupplyState& supply, const std::vector<const Conduction*>& commands, Memory& memory,
                  Waves* waves, std::size_t written) {
  const SourceWaves source = source_waves(supply_, supply);
  memory.begin = begin_;
  memory.end.clear();
  memory.commands.clear();
  memory.resistances_ohm.clear();
  for (std::size_t u = 0; u < units_.size(); ++u) {
    units_[u].begin_cycle(begin_[u], *commands[u], source);
    memory.commands.push_back(*commands[u]);
    memory.resistances_ohm.push_back(units_[u].leg_ohm);
  }
  SourceState source_state = source_begin_;
  const auto take = [&](const auto& solver) {
    memory.answer.loads.resize(units_.size());
    for (std::size_t u = 0; u < units_.size(); ++u) solver.sums()[u].fill(units_[u], memory.answer.loads[u]);
    memory.answer.supply = solver.supply();
  };
  const SourceImpedance impedance{supply_.resistance_ohm, supply_.inductance_H};
  switch (solver_) {
    case Solver::resistive:
      resistive_.write_waves(written, waves);
      resistive_.solve(source, supply_.resistance_ohm, pointers_);
      take(resistive_);
      if (with_lines_) memory.answer.lines = resistive_.lines();
      break;
    case Solver::stepped:
      steps_.write_waves(written, waves);
      steps_.solve(source, impedance, pointers_, source_state, with_lines_);
      take(steps_);
      if (with_lines_) memory.answer.lines = steps_.lines();
      break;
    case Solver::crowd:
      crowd_.write_waves(written, waves);
      crowd_.solve(source, impedance, pointers_, source_state);
      take(crowd_);
      break;
  }
  for (const auto& unit : units_) memory.end.push_back(unit.state());
  if (waves == nullptr) source_end_ = source_state;
  memory.settled = ended_as_begun(memory, source_state);
}

bool Circuit::ended_as_begun(const Memory& memory, const SourceState& source_end) const {
  for (std::size_t u = 0; u < units_.size(); ++u) {
    const UnitState& begin = memory.begin[u];
    const UnitState& end = memory.end[u];
    if (!same_switching(begin, end)) return false;
    if (!units_[u].has_memory()) continue;
    for (std::size_t l = 0; l < units_[u].legs; ++l) {
      const BranchState& a = begin.branches[l];
      const BranchState& b = end.branches[l];
      // Off, what leaks is next to nothing: it is held against what the load is made for.
      const double peak_A = memory.answer.loads[u].legs[l].current_A + 1e3 * units_[u].tolerance_A();
      const double peak_Vs = units_[u].nominal_flux_Vs();
      if (!same_value(a.current_A, b.current_A, peak_A, kSettledShare) ||
          !same_value(a.secondary_A, b.secondary_A, peak_A, kSettledShare) ||
          !same_value(a.flux_Vs, b.flux_Vs, peak_Vs, kSettledShare))
        return false;
    }
  }
  if (supply_.inductance_H <= 0.0) return true;
  for (std::size_t p = 0; p < 3; ++p)
    if (!same_value(source_begin_.current_A[p], source_end.current_A[p],
                    std::sqrt(memory.answer.supply.line_square_A[p]), kSettledShare))
      return false;
  return true;
}

Waves Circuit::waves(std::size_t index, const SupplyState& supply,
                     const std::vector<const Conduction*>& commands) {
  Waves waves;
  Memory memory;
  run(supply, commands, memory, &waves, index);
  return waves;
}

}  // namespace emberline::plant
