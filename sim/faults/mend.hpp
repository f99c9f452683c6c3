#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// makes good again what broke: supply, load, power stage or sensor.
extern const ActionKind kMend;

/// The action that mends this fault and no other: `mend TARGET only WORD`.
[[nodiscard]] Action mended(const Action& action);

}  // namespace emberline::faults
