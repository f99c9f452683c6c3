#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// takes the control supply from a unit.
extern const ActionKind kPowerOff;

}  // namespace emberline::faults
