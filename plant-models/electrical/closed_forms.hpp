#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "plant-models/electrical/half_wave.hpp"
#include "plant-models/electrical/load.hpp"
#include "plant-models/electrical/network_result.hpp"
#include "plant-models/electrical/supply.hpp"

namespace emberline::plant {

/// The plain part of a network's work: balanced resistive loads to neutral, nothing broken, one mains cycle
/// in steady state. Voltages are sines behind the source's resistance; the sag at the common busbar comes
/// from the waveform: half a cycle is cut at every firing angle and at the thyristors' drop, between cuts the
/// set of conducting legs is fixed, and everything integrates in closed form (HalfWave). The neutral
/// conductor has no resistance. What leaks is shown while a load is off. Keeps scratch memory between calls.
class ClosedForms {
 public:
  ClosedForms(const SupplyParameters& supply, const std::vector<LoadParameters>& loads);

  /// One entry of `states` a load; `share` of the supply's voltage.
  void solve(double share, const std::vector<Conduction>& states, NetworkResult& result);
  /// The same for one load, with this load at full conduction. The neutral current is left at 0.
  [[nodiscard]] LoadResult full_conduction(std::size_t index, double share,
                                           const std::vector<Conduction>& states);

 private:
  /// Fills a load's resistance and firing angle, as it is or fully conducting.
  void prepare(std::size_t index, const Conduction& state, bool full);
  void solve_waves(double share, std::span<const HalfWave::Leg> legs);
  /// `place` of the load among the legs that were solved.
  void fill(std::size_t index, std::size_t place, LoadResult& result, bool with_neutral);
  void fill_leaking(std::size_t index, LoadResult& result);
  [[nodiscard]] std::size_t phases() const { return supply_.system == System::three_phase ? 3 : 1; }

  SupplyParameters supply_;
  std::vector<LoadParameters> loads_;
  double nominal_V_;  ///< RMS across a leg
  std::vector<double> resistances_ohm_;
  std::vector<HalfWave::Leg> legs_;
  std::vector<char> connected_;
  HalfWave half_wave_;
};

}  // namespace emberline::plant
