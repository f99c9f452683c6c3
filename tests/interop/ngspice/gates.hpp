#pragma once

#include <cstddef>
#include <vector>

#include "tests/interop/ngspice/power_stage.hpp"

namespace emberline::spice {

/// When a gate is held, in degrees of the supply from time 0 on. `zero_deg`: where the half-wave of this
/// thyristor begins.
[[nodiscard]] std::vector<GateWindow> gate_windows(const PowerStage& stage, std::size_t load,
                                                   std::size_t pair, double zero_deg);

}  // namespace emberline::spice
