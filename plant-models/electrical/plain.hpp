#pragma once

#include "plant-models/electrical/load.hpp"
#include "plant-models/electrical/supply.hpp"

namespace emberline::plant {

// What makes cycles plain, so that they are in closed form (see Network): each looks at one part of it.
// Inside plant-models, but for the last one.

[[nodiscard]] bool is_plain(const SupplyParameters& supply);
[[nodiscard]] bool is_plain(const SupplyParameters& supply, const SupplyState& state);
[[nodiscard]] bool is_plain(const SupplyParameters& supply, const LoadParameters& load);
[[nodiscard]] bool is_plain(const LoadParameters& load, const Conduction& command);

/// Neither inductance nor transformer in any leg.
[[nodiscard]] bool is_resistive(const LoadParameters& load);

/// True if what Network::full_conduction() says of a load depends on the supply, on this load's legs and on
/// the temperature of its elements, and on nothing else: neither on its firing nor on the `neighbours` there
/// are.
[[nodiscard]] bool full_conduction_is_its_own(const SupplyParameters& supply, bool neighbours,
                                              const SupplyState& state, const LoadParameters& load);

}  // namespace emberline::plant
