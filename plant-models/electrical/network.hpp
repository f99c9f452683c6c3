#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "plant-models/electrical/load.hpp"
#include "plant-models/electrical/network_result.hpp"
#include "plant-models/electrical/supply.hpp"

namespace emberline::plant {

/// All loads of a bench on one supply, one mains cycle at a time.
///
/// What it does is deterministic, and depends on the parameters, on the states of the cycles so far, and on
/// nothing else. A purely resistive load has no memory: its cycle follows from its state. Inductances, cores
/// and legs that were caught in the middle of a burst's transition carry something from cycle to cycle, so a
/// change takes a few cycles to settle; while nothing changes, settled() tells when the cycles to come are
/// all alike.
///
/// While all loads are plain (balanced, resistive, each leg to neutral, nothing broken, behind a resistive
/// balanced supply) a cycle is in closed form (HalfWave), and a burst begins and ends with the cycle in all
/// phases. Everything else is solved by Circuit, where each pair begins and ends at a zero of its own, so
/// that bursts reach into the cycle behind them.
///
/// A Network keeps scratch memory between calls: use one from one thread only.
class Network {
 public:
  /// Everything wrong with the parameters, in words for the writer of a bench file; empty if possible.
  static std::vector<std::string> problems(const SupplyParameters& supply);
  static std::vector<std::string> problems(const SupplyParameters& supply, const LoadParameters& load);
  Network(const SupplyParameters& supply, std::vector<LoadParameters> loads);
  ~Network();
  Network(Network&&) noexcept;

  /// The next cycle begins where the last solve() ended.
  void next_cycle();
  /// Solves the present cycle from where it began; may be asked again with other states before next_cycle(),
  /// and then the last answer counts. One entry of `states` a load; `result` is used again and again without
  /// allocating.
  void solve(const SupplyState& supply, const std::vector<Conduction>& states, NetworkResult& result);
  /// True when the cycle just solved ended as it began (within 1e-5 of its peaks): with the same states the
  /// following ones are like it.
  [[nodiscard]] bool settled() const;

  /// How often in all cycles so far, and in full_conduction() and waves(), no agreement on what conducts was
  /// found within a bound on turns, so that a cycle may be wrong. 0, unless the model has a slip.
  [[nodiscard]] std::uint64_t gave_up() const;

  /// What load `index` would take at full conduction, contactor closed, while the others are as in `states`,
  /// once it has settled. With inductance or a transformer by phasors, which leaves out the saturation of the
  /// core and what the load's own change does to the neighbours' sag.
  [[nodiscard]] LoadResult full_conduction(std::size_t index, const SupplyState& supply,
                                           const std::vector<Conduction>& states) const;
  /// Nominal supply voltage without load across a leg of this load: line-neutral for stars, else line-line
  /// (single-phase: as it hangs).
  [[nodiscard]] double leg_supply_V(std::size_t index) const;
  /// The present cycle of one load as samples. Slow (some 100 us): for drawing.
  [[nodiscard]] Waves waves(std::size_t index, const SupplyState& supply,
                            const std::vector<Conduction>& states) const;

 private:
  class Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace emberline::plant
