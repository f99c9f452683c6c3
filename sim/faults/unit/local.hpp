#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// turns the knob of a unit: its local setpoint.
extern const ActionKind kLocal;

}  // namespace emberline::faults
