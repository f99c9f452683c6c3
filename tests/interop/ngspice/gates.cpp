#include "tests/interop/ngspice/gates.hpp"

#include <algorithm>
#include <cmath>

namespace emberline::spice {
namespace {

void hold(std::vector<GateWindow>& windows, double from_deg, double to_deg) {
  if (from_deg >= to_deg) return;
  if (!windows.empty() && from_deg - windows.back().to_deg < 1e-6)
    windows.back().to_deg = to_deg;
  else
    windows.push_back({from_deg, to_deg});
}

}  // namespace

std::vector<GateWindow> gate_windows(const PowerStage& stage, std::size_t load, std::size_t pair,
                                     double zero_deg) {
  if (load < stage.gates.size()) return stage.gates[load][pair];
  const bool three_wire = stage.loads[load].three_wire();
  std::vector<GateWindow> result;
  bool whole = three_wire;  // the cycle before was one of whole half-waves
  for (std::size_t cycle = 0; cycle < stage.cycles.size(); ++cycle) {
    const auto& state = stage.cycles[cycle][load];
    const double begin_deg = 360.0 * static_cast<double>(cycle), end_deg = begin_deg + 360.0;
    if (!state.connected || state.firing_angle_deg >= 180.0) {
      whole = false;
    } else if (state.firing_angle_deg <= 0.0) {
      // Whole half-waves: from the first zero on both gates are held.
      double from = begin_deg;
      if (!whole) from += std::fmod(zero_deg + 720.0, 180.0) + state.first_half_deg.value_or(0.0);
      hold(result, from, end_deg);
      whole = true;
    } else {
      // Without a neutral the current comes back through a thyristor that was fired 60 degrees earlier, and
      // has to be held for that long; 120 degrees are one of the published patterns.
      const double last_deg = three_wire ? std::max(180.0, state.firing_angle_deg + 120.0) : 180.0;
      for (int turn = -2; turn <= 1; ++turn) {
        const double zero = begin_deg + zero_deg + 360.0 * turn;
        hold(result, std::max(begin_deg, zero + state.firing_angle_deg), std::min(end_deg, zero + last_deg));
      }
      whole = false;
    }
  }
  return result;
}

}  // namespace emberline::spice
