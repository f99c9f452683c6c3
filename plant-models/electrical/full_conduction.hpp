#pragma once

#include <array>

#include "plant-models/electrical/circuit_unit.hpp"
#include "plant-models/electrical/network_result.hpp"

namespace emberline::plant {

/// A load whose thyristors conduct all the time, by phasors: sines behind the source's impedance, the core of
/// a transformer below its knee, the thyristors' drop d as a loss of its mean (2 sqrt 2/pi d) from the RMS
/// voltage. `shunt_S` of each line stands for what the other loads take. Fuses, open elements and open lines
/// count; thyristors that are open do not. Pairs' means and neutral current are left at 0.
[[nodiscard]] LoadResult full_conduction_by_phasors(const SupplyParameters& supply,
                                                    const LoadParameters& load,
                                                    const SupplyState& supply_state,
                                                    const Conduction& command,
                                                    const std::array<double, 3>& shunt_S);

}  // namespace emberline::plant
