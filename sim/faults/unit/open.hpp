#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// breaks the wire to a terminal or contactor until it is released.
extern const ActionKind kOpen;

}  // namespace emberline::faults
