#include "plant-models/electrical/network.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>
#include <utility>

#include "plant-models/electrical/circuit.hpp"
#include "plant-models/electrical/closed_forms.hpp"
#include "plant-models/electrical/full_conduction.hpp"
#include "plant-models/electrical/plain.hpp"

namespace emberline::plant {
namespace {
/// With more loads behind one source than this the full conduction of one is found by phasors.
constexpr std::size_t kFewLoads = 3;
constexpr double kSameShare = 1e-6;
constexpr double kSame_deg = 1e-6;
}  // namespace

/// Plain cycles go to ClosedForms, all others to one Circuit of all loads, or on a supply without impedance
/// to a Circuit for each.
class Network::Impl {
 public:
  Impl(const SupplyParameters& supply, std::vector<LoadParameters> loads);

  void next_cycle();
  void solve(const SupplyState& supply, const std::vector<Conduction>& commands, NetworkResult& result);
  LoadResult full_conduction(std::size_t index, const SupplyState& supply,
                             const std::vector<Conduction>& commands);
  Waves waves(std::size_t index, const SupplyState& supply, const std::vector<Conduction>& commands);
  [[nodiscard]] bool settled() const { return settled_; }
  [[nodiscard]] std::uint64_t gave_up() const;
  [[nodiscard]] double leg_supply_V(std::size_t index) const;

 private:
  enum class Way { closed_forms, one_by_one, together };

  [[nodiscard]] Way way(const SupplyState& supply, const std::vector<Conduction>& commands) const;
  void go(Way way);
  [[nodiscard]] bool same_as_last(const SupplyState& supply, const std::vector<Conduction>& commands) const;
  void solve_closed_forms(const SupplyState& supply, const std::vector<Conduction>& commands);
  void solve_one_by_one(const SupplyState& supply, const std::vector<Conduction>& commands);
  void solve_together(const SupplyState& supply, const std::vector<Conduction>& commands);
  [[nodiscard]] std::vector<const Conduction*> pointers(const std::vector<Conduction>& commands) const;
  Circuit& together();
  Circuit& alone(std::size_t index);
  [[nodiscard]] Conduction fully(const Conduction& command) const;
  [[nodiscard]] std::array<double, 3> shunts(std::size_t index);

  SupplyParameters supply_;
  std::vector<LoadParameters> loads_;
  bool plain_ = true;      ///< supply and loads
  bool resistive_ = true;  ///< likewise
  ClosedForms closed_forms_;
  std::vector<std::unique_ptr<Circuit>> alone_;  ///< made when they are needed first
  std::unique_ptr<Circuit> together_;
  std::vector<std::unique_ptr<Circuit>> full_;  ///< of full_conduction()

  Way way_ = Way::closed_forms;
  std::vector<UnitState> begin_, end_;  ///< in closed forms; else the circuits have their own
  bool settled_ = true;
  NetworkResult last_;
  SupplyState last_supply_;
  std::vector<Conduction> last_commands_;
  bool last_valid_ = false;
  std::array<double, 3> all_shunts_S_{};  ///< what all loads took last time, by line
  bool shunts_known_ = false;
  std::vector<std::uint64_t> versions_;
  std::vector<const std::vector<LineStretch>*> lines_;  ///< scratch
  std::vector<const Conduction*> command_;              ///< likewise
};

Network::Impl::Impl(const SupplyParameters& supply, std::vector<LoadParameters> loads)
    : supply_(supply), loads_(std::move(loads)), closed_forms_(supply_, loads_) {
  assert(problems(supply_).empty());
  plain_ = is_plain(supply_);
  resistive_ = supply_.inductance_H == 0.0;
  for (const auto& load : loads_) {
    assert(problems(supply_, load).empty());
    plain_ = plain_ && is_plain(supply_, load);
    resistive_ = resistive_ && is_resistive(load);
    begin_.push_back(UnitCircuit(supply_, load).rest());
  }
  end_ = begin_;
  alone_.resize(loads_.size());
  full_.resize(loads_.size());
  versions_.resize(loads_.size());
  last_.loads.resize(loads_.size());
}

Network::Impl::Way Network::Impl::way(const SupplyState& supply,
                                      const std::vector<Conduction>& commands) const {
  bool plain = plain_ && is_plain(supply_, supply);
  for (std::size_t u = 0; plain && u < loads_.size(); ++u) plain = is_plain(loads_[u], commands[u]);
  if (plain) return Way::closed_forms;
  const bool seen = supply_.resistance_ohm > 0.0 || supply_.inductance_H > 0.0;
  return (seen || any_open(supply.open)) && loads_.size() > 1 ? Way::together : Way::one_by_one;
}

Circuit& Network::Impl::together() {
  if (!together_) {
    std::vector<const LoadParameters*> all;
    for (const auto& load : loads_) all.push_back(&load);
    together_ = std::make_unique<Circuit>(supply_, all);
  }
  return *together_;
}

Circuit& Network::Impl::alone(std::size_t index) {
  if (!alone_[index])
    alone_[index] = std::make_unique<Circuit>(supply_, std::vector<const LoadParameters*>{&loads_[index]},
                                              loads_.size() > 1);
  return *alone_[index];
}

/// Another way than last time goes on where the last one has come to.
void Network::Impl::go(Way way) {
  if (way == way_) return;
  if (way_ == Way::together) begin_ = together().begin();
  if (way_ == Way::one_by_one)
    for (std::size_t u = 0; u < loads_.size(); ++u) begin_[u] = alone(u).begin()[0];
  way_ = way;
  last_valid_ = false;
  if (way == Way::together) together().set_begin(begin_);
  if (way == Way::one_by_one)
    for (std::size_t u = 0; u < loads_.size(); ++u) alone(u).set_begin({begin_[u]});
}

void Network::Impl::next_cycle() {
  if (way_ == Way::closed_forms) begin_ = end_;
  if (way_ == Way::together) together().next_cycle();
  if (way_ == Way::one_by_one)
    for (std::size_t u = 0; u < loads_.size(); ++u) alone(u).next_cycle();
}

std::vector<const Conduction*> Network::Impl::pointers(const std::vector<Conduction>& commands) const {
  std::vector<const Conduction*> all;
  all.reserve(commands.size());
  for (const auto& command : commands) all.push_back(&command);
  return all;
}

void Network::Impl::solve(const SupplyState& supply, const std::vector<Conduction>& commands,
                          NetworkResult& result) {
  assert(commands.size() == loads_.size());
  go(way(supply, commands));
  shunts_known_ = false;
  switch (way_) {
    case Way::closed_forms:
      solve_closed_forms(supply, commands);
      break;
    case Way::one_by_one:
      solve_one_by_one(supply, commands);
      break;
    case Way::together:
      solve_together(supply, commands);
      break;
  }
  result = last_;
}

bool Network::Impl::same_as_last(const SupplyState& supply, const std::vector<Conduction>& commands) const {
  if (!last_valid_ || supply != last_supply_) return false;
  for (std::size_t u = 0; u < commands.size(); ++u) {
    const Conduction& now = commands[u];
    const Conduction& then = last_commands_[u];
    if (now.connected != then.connected || !(now.legs == then.legs) ||
        std::abs(now.firing_angle_deg - then.firing_angle_deg) > kSame_deg)
      return false;
    if (now.element_degC == then.element_degC) continue;
    const double ohm = leg_resistance_ohm(loads_[u], 0, now.element_degC, now.legs[0]);
    const double then_ohm = last_.loads[u].leg_resistance_ohm[0];
    if (std::abs(ohm - then_ohm) > kSameShare * then_ohm) return false;
  }
  return true;
}

void Network::Impl::solve_closed_forms(const SupplyState& supply, const std::vector<Conduction>& commands) {
  settled_ = true;
  if (same_as_last(supply, commands)) return;
  closed_forms_.solve(supply.share[0] * supply_.phase_share[0], commands, last_);
  last_supply_ = supply;
  last_commands_ = commands;
  last_valid_ = true;
  for (std::size_t u = 0; u < loads_.size(); ++u) {
    const bool on = commands[u].connected && commands[u].firing_angle_deg <= 0.0;
    end_[u].direction = {};
    end_[u].armed.fill(on);
    end_[u].bursting = on;
  }
}

void Network::Impl::solve_together(const SupplyState& supply, const std::vector<Conduction>& commands) {
  Circuit& circuit = together();
  const auto& answer = circuit.solve(supply, pointers(commands));
  last_.loads = answer.loads;
  answer.supply.fill(last_);
  settled_ = circuit.settled();
}

void Network::Impl::solve_one_by_one(const SupplyState& supply, const std::vector<Conduction>& commands) {
  settled_ = true;
  bool changed = !last_valid_ || supply != last_supply_;
  lines_.clear();
  command_.resize(1);
  for (std::size_t u = 0; u < loads_.size(); ++u) {
    Circuit& circuit = alone(u);
    command_[0] = &commands[u];
    const auto& answer = circuit.solve(supply, command_);
    settled_ = settled_ && circuit.settled();
    lines_.push_back(&answer.lines);
    if (last_valid_ && versions_[u] == answer.version) continue;
    changed = true;
    versions_[u] = answer.version;
    last_.loads[u] = answer.loads[0];
    if (loads_.size() == 1) answer.supply.fill(last_);
  }
  last_valid_ = true;
  last_supply_ = supply;
  if (!changed || loads_.size() == 1) return;
  SupplySums sums;
  const SourceWaves source = source_waves(supply_, supply);
  const auto square = [](double sine, double cosine) {
    return std::numbers::pi * (sine * sine + cosine * cosine);
  };
  for (std::size_t p = 0; p < source.lines; ++p) {
    const SineWave& one = source.line[p];
    const SineWave& next = source.line[(p + 1) % 3];
    sums.node_square_V[p] = square(one.sine, one.cosine);
    if (source.lines == 3) sums.line_square_V[p] = square(one.sine - next.sine, one.cosine - next.cosine);
  }
  add_lines(lines_, sums);
  sums.fill(last_);
}

std::uint64_t Network::Impl::gave_up() const {
  std::uint64_t times = together_ ? together_->gave_up() : 0;
  for (const auto* circuits : {&alone_, &full_})
    for (const auto& circuit : *circuits) times += circuit ? circuit->gave_up() : 0;
  return times;
}

Conduction Network::Impl::fully(const Conduction& command) const {
  Conduction full = command;
  full.connected = true;
  full.firing_angle_deg = 0.0;
  full.first_half_deg.reset();
  return full;
}

/// What the other loads took last time, as conductances from their lines to neutral.
std::array<double, 3> Network::Impl::shunts(std::size_t index) {
  const auto of = [&](const LoadResult& load, std::size_t p) {
    const double volts = last_.supply_voltage_V[p];
    return volts > 0.0 ? std::max(0.0, load.line_power_W[p]) / (volts * volts) : 0.0;
  };
  if (!shunts_known_) {
    all_shunts_S_ = {};
    for (const auto& load : last_.loads)
      for (std::size_t p = 0; p < 3; ++p) all_shunts_S_[p] += of(load, p);
    shunts_known_ = true;
  }
  std::array<double, 3> shunt_S = all_shunts_S_;
  for (std::size_t p = 0; p < 3; ++p) shunt_S[p] = std::max(0.0, shunt_S[p] - of(last_.loads[index], p));
  return shunt_S;
}

LoadResult Network::Impl::full_conduction(std::size_t index, const SupplyState& supply,
                                          const std::vector<Conduction>& commands) {
  assert(index < loads_.size());
  const bool seen = supply_.resistance_ohm > 0.0 || any_open(supply.open);
  const bool together = seen && loads_.size() > 1;
  const bool resistive = together ? resistive_ : is_resistive(loads_[index]);
  if (!resistive || supply_.inductance_H > 0.0 || (together && loads_.size() > kFewLoads))
    return full_conduction_by_phasors(supply_, loads_[index], supply, commands[index], shunts(index));
  const bool plain = together ? way(supply, commands) == Way::closed_forms
                              : is_plain(supply_, supply) && is_plain(supply_, loads_[index]) &&
                                    is_plain(loads_[index], commands[index]);
  if (plain) return closed_forms_.full_conduction(index, supply.share[0] * supply_.phase_share[0], commands);
  std::vector<Conduction> changed;
  std::vector<UnitState> begin;
  std::vector<const LoadParameters*> loads;
  for (std::size_t u = 0; u < loads_.size(); ++u) {
    if (!together && u != index) continue;
    changed.push_back(u == index ? fully(commands[u]) : commands[u]);
    begin.push_back(way_ == Way::closed_forms ? begin_[u]
                    : way_ == Way::together   ? together_->begin()[u]
                                              : alone(u).begin()[0]);
    loads.push_back(&loads_[u]);
    if (u != index) continue;
    begin.back().armed.fill(true);
    begin.back().direction = {};
    begin.back().bursting = true;
  }
  auto& circuit = full_[index];
  if (!circuit || circuit->size() != loads.size()) circuit = std::make_unique<Circuit>(supply_, loads);
  circuit->set_begin(begin);
  LoadResult result = circuit->solve(supply, pointers(changed)).loads[together ? index : 0];
  return result;
}

Waves Network::Impl::waves(std::size_t index, const SupplyState& supply,
                           const std::vector<Conduction>& commands) {
  Way chosen = way(supply, commands);
  if (chosen == Way::closed_forms)
    chosen = supply_.resistance_ohm > 0.0 && loads_.size() > 1 ? Way::together : Way::one_by_one;
  if (way_ == Way::closed_forms) {
    if (chosen == Way::together) together().set_begin(begin_);
    if (chosen == Way::one_by_one) alone(index).set_begin({begin_[index]});
  }
  if (chosen == Way::together) return together().waves(index, supply, pointers(commands));
  return alone(index).waves(0, supply, {&commands[index]});
}

double Network::Impl::leg_supply_V(std::size_t index) const {
  const auto& load = loads_[index];
  const bool to_neutral = load.connection == Connection::star_4_wire ||
                          load.connection == Connection::star_3_wire ||
                          (load.connection == Connection::single_phase && load.across <= Across::l3_n);
  return supply_.system == System::three_phase && to_neutral ? supply_.voltage_V / std::numbers::sqrt3
                                                             : supply_.voltage_V;
}

Network::Network(const SupplyParameters& supply, std::vector<LoadParameters> loads)
    : impl_(std::make_unique<Impl>(supply, std::move(loads))) {}
Network::~Network() = default;
Network::Network(Network&&) noexcept = default;

void Network::next_cycle() { impl_->next_cycle(); }
void Network::solve(const SupplyState& supply, const std::vector<Conduction>& states, NetworkResult& result) {
  impl_->solve(supply, states, result);
}
bool Network::settled() const { return impl_->settled(); }
std::uint64_t Network::gave_up() const { return impl_->gave_up(); }
LoadResult Network::full_conduction(std::size_t index, const SupplyState& supply,
                                    const std::vector<Conduction>& states) const {
  return impl_->full_conduction(index, supply, states);
}
double Network::leg_supply_V(std::size_t index) const { return impl_->leg_supply_V(index); }
Waves Network::waves(std::size_t index, const SupplyState& supply,
                     const std::vector<Conduction>& states) const {
  return impl_->waves(index, supply, states);
}

}  // namespace emberline::plant
