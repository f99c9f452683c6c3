#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// bridges the wire to a terminal or contactor until it is released.
extern const ActionKind kClose;

}  // namespace emberline::faults
