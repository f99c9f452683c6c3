#pragma once

#include <cstdint>

#include "sim/unit/unit_spec.hpp"

namespace emberline::unit {

/// What a relay sees of its unit.
struct RelayInputs {
  bool powered = true;  ///< control supply of the unit
  std::uint32_t warnings = 0;
  std::uint32_t trips = 0;
};

/// Whether the coil is pulled in. Without control supply no coil is, whatever its kind: that is what makes
/// energised-when-healthy fail-safe.
[[nodiscard]] bool coil_energised(const RelaySpec& spec, const RelayInputs& inputs);
/// Whether the contact conducts: normally-open with the coil pulled in, normally-closed with it fallen off.
[[nodiscard]] bool contact_closed(const RelaySpec& spec, const RelayInputs& inputs);

}  // namespace emberline::unit
