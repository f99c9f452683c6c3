#pragma once

#include <array>
#include <cstddef>

#include "plant-models/electrical/circuit_branch.hpp"
#include "plant-models/electrical/circuit_forms.hpp"
#include "plant-models/electrical/circuit_gate.hpp"
#include "plant-models/electrical/load.hpp"
#include "plant-models/electrical/network_result.hpp"
#include "plant-models/electrical/supply.hpp"

namespace emberline::plant {

/// The source voltages of one cycle, line to neutral: sine sin x + cosine cos x, in V (peak).
struct SourceWaves {
  std::array<SineWave, 3> line{};
  std::array<bool, 3> open{};
  std::size_t lines = 3;  ///< single-phase supply: 1
  double rad_per_s = 0.0;
};
[[nodiscard]] SourceWaves source_waves(const SupplyParameters& supply, const SupplyState& state);

/// What a unit carries from one mains cycle to the next.
struct UnitState {
  std::array<int, 3> direction{};  ///< of the current that each pair conducts: 1, -1, 0
  std::array<bool, 3> armed{};  ///< zero-crossing: has seen the zero it waits for, and is fired all the time
  bool bursting = false;        ///< commanded on, without an angle
  bool late = false;            ///< three-wire: the next burst is one of the longer ones
  std::array<BranchState, 3> branches{};
};

/// One unit with its load, inside a network of up to three busbar nodes: which thyristors may be fired when,
/// which of them conduct, and how every voltage and current hangs on the nodes while they do.
///
/// Thyristors: a pair begins to conduct when its voltage is above the drop in a direction that is fired, and
/// ends when its current passes zero; not fired any more, when it passes the holding current. A shorted one
/// conducts in its direction without being fired and without drop. A pair that is off leaks.
///
/// Fired at 0 degrees a pair waits for a zero of the voltage across itself, and is fired from then on; not
/// commanded any more, it stops at the next zero of its current. Off three-wire pairs find the zeros of the
/// voltages between the lines. So a burst of a three-wire load begins and ends with 90 degrees in which two
/// lines conduct, and takes a twelfth of a cycle more or less than its whole cycles; the two take turns, so
/// that two bursts make whole cycles.
class UnitCircuit {
 public:
  /// `load` stays where it is.
  UnitCircuit(const SupplyParameters& supply, const LoadParameters& load);

  /// Before the first cycle.
  [[nodiscard]] UnitState rest() const;
  /// A cycle begins from this state, with this command.
  void begin_cycle(const UnitState& state, const Conduction& command, const SourceWaves& source);
  [[nodiscard]] UnitState state() const;

  [[nodiscard]] bool has_memory() const { return has_memory_; }
  /// Peak of the integral of a leg's nominal voltage.
  [[nodiscard]] double nominal_flux_Vs() const;
  [[nodiscard]] bool has_transformer() const { return load_->transformer.has_value(); }
  /// Contactor closed: something of it may conduct, or leak.
  [[nodiscard]] bool connected() const { return connected_; }
  [[nodiscard]] bool three_wire() const { return load_->three_wire(); }

  // --- Switching. All angles in radians of this cycle, all node voltages in V.

  /// Switches what disagrees with the node voltages at this angle. `one`: at most one pair, and none
  /// for less than rounding leaves. True if something
  /// was switched, and the forms have changed.
  bool switch_pairs(double at_rad, const std::array<double, 3>& nodes_V, bool one);
  /// The first angle behind this one at which a command changes something.
  [[nodiscard]] double next_command(double after_rad) const;
  /// Something that has to be switched when it rises above zero.
  struct Watched {
    Form value;
    bool current;  ///< in A, else in V
    std::size_t pair;
    int direction;        ///< that the pair then takes
    bool arms = false;    ///< it is not switched, but has seen its zero
    double held_A = 0.0;  ///< current: what it has in it beside the current
  };
  /// Calls watcher(watched) for everything that may switch next, as things were at the last switch_pairs().
  template <typename Watcher>
  void watch(Watcher&& watcher) const;
  /// Notes where the voltages stand that zero-crossing pairs wait for, and arms those that have passed zero.
  /// True if something was armed.
  bool arm(double at_rad, const std::array<double, 3>& nodes_V);
  /// Switches one pair that a step of time has brought to its zero.
  void force(std::size_t pair, int direction);
  /// How far a zero may be missed.
  [[nodiscard]] double tolerance_V() const;
  [[nodiscard]] double tolerance_A() const;
  /// Solved in steps of time: zeros are hit only nearly, and what leaks is no part of the busbars' equations,
  /// because with an inductance it would be a time constant far below any step.
  void set_stepped(bool stepped) { stepped_ = stepped; }
  [[nodiscard]] bool conducts_on(std::size_t node) const;

  // --- Forms, valid until something is switched or a companion model changes.

  void reduce();
  /// Resistive: the legs' conductances. Else companion models over a step, from the legs' states.
  void set_resistive();
  void set_step(double step_s, Branch::Rule rule);
  bool core_disagrees(const std::array<double, 3>& nodes_V);
  /// Behind a transformer: what the load of a leg turns into heat at the end of the step.
  [[nodiscard]] double element_W(std::size_t leg, double voltage_V) const {
    return branches_[leg].element_W(voltage_V);
  }
  void advance(const std::array<double, 3>& nodes_V);

  std::size_t legs = 3;   ///< that it has
  std::size_t pairs = 3;  ///< likewise
  std::array<Form, 3> leg_V{}, leg_A{}, pair_V{}, pair_A{}, line_A{};
  std::array<Form, 3> node_A{};  ///< of line_A, what counts in the busbars' equations
  Form neutral_A;
  std::array<double, 3> leg_ohm{};  ///< of the load, secondary side

 private:
  enum class Shape { own_branches, star, delta };
  static constexpr std::size_t kNeutral = 3;
  struct PairCircuit {
    bool isolated = false;         ///< fuse or contactor open
    bool closed = false;           ///< a wire in place of it, or both shorted
    std::array<bool, 2> broken{};  ///< forward, backward
    std::array<bool, 2> shorted{};
    Gate gate;
    bool armed = false;
    int direction = 0;
    double armed_from_rad = -1.0;  ///< armed, but fired only from here on
    std::array<bool, 2> fired{};   ///< since the last refresh(), likewise
    bool waits = false;            ///< zero-crossing, for its zero
    int watched_sign = 0;          ///< of the voltage whose zero it waits for
  };

  void command_pairs(const Conduction& command, const SourceWaves& source);
  void command_burst(const Conduction& command);
  [[nodiscard]] double reference_rad(std::size_t pair, const SourceWaves& source) const;
  [[nodiscard]] static bool conducts(const PairCircuit& pair) { return pair.closed || pair.direction != 0; }
  [[nodiscard]] int conducting() const;
  [[nodiscard]] double leak_S(const PairCircuit& pair) const;
  void refresh(double at_rad);
  [[nodiscard]] static bool fired(const PairCircuit& pair, int direction) {
    return pair.fired[direction > 0 ? 0 : 1];
  }
  [[nodiscard]] static bool may_conduct(const PairCircuit& pair, int direction) {
    return !pair.isolated && !pair.broken[direction > 0 ? 0 : 1] && fired(pair, direction);
  }
  /// Below which a conducting pair ends.
  [[nodiscard]] double least_A(const PairCircuit& pair) const;
  [[nodiscard]] double drop_V(const PairCircuit& pair, int direction) const;
  [[nodiscard]] int wanted(std::size_t index, const std::array<double, 3>& nodes_V, double slack_V) const;
  /// Off three-wire pairs wait for a zero between their line and the next: it arms both.
  [[nodiscard]] bool waits_in_couples() const;
  [[nodiscard]] std::size_t partner(std::size_t pair, bool couples) const {
    return couples ? (pair + 1) % 3 : pair;
  }
  [[nodiscard]] bool awaits_zero(std::size_t pair, bool couples) const;
  [[nodiscard]] Form awaited_V(std::size_t pair, bool couples) const;
  void reduce_shape();
  void reduce_own();
  void reduce_star();
  void reduce_delta();

  const LoadParameters* load_;
  Shape shape_ = Shape::own_branches;
  std::array<std::size_t, 3> from_{0, 1, 2};
  std::array<std::size_t, 3> to_{kNeutral, kNeutral, kNeutral};
  bool two_controlled_ = false;
  double nominal_V_ = 0.0;  ///< RMS across a leg
  double nominal_rad_per_s_ = 0.0;
  double leakage_S_ = 0.0;
  double holding_A_ = 0.0;
  bool has_memory_ = false;
  bool stepped_ = false;
  bool hardly_leaks_ = false;  ///< in reduce()

  bool connected_ = false;
  bool zero_crossing_ = false;  ///< in this cycle
  bool bursting_ = false;
  bool late_ = false;
  double arms_from_rad_ = 0.0;   ///< zeros before this do not count
  double disarms_at_rad_ = 0.0;  ///< what is armed is fired until here
  double first_rad_ = 0.0;
  double voltage_scale_V_ = 1.0;
  std::array<PairCircuit, 3> pairs_{};
  std::array<Branch, 3> branches_{};
  std::array<double, 3> leg_S_{};  ///< conductance and source of each leg, now
  std::array<double, 3> leg_source_A_{};
};

template <typename Watcher>
void UnitCircuit::watch(Watcher&& watcher) const {
  const bool couples = waits_in_couples();
  for (std::size_t p = 0; p < pairs; ++p) {
    const PairCircuit& pair = pairs_[p];
    if (awaits_zero(p, couples))
      watcher(Watched{awaited_V(p, couples) * (pair.watched_sign > 0 ? -1.0 : 1.0), false, p, 0, true});
    if (pair.isolated) continue;
    if (pair.closed) {
      watcher(Watched{pair_A[p] * (pair.direction > 0 ? -1.0 : 1.0), true, p, -pair.direction});
    } else if (pair.direction != 0) {
      const double held_A = least_A(pair);
      watcher(Watched{pair_A[p] * -pair.direction + held_A, true, p, 0, false, held_A});
    } else {
      for (const int direction : {1, -1})
        if (may_conduct(pair, direction))
          watcher(Watched{pair_V[p] * direction + -drop_V(pair, direction), false, p, direction});
    }
  }
}

}  // namespace emberline::plant
