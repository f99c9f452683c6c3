#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// opens a wire for one second, then releases it; its moment is the closing edge.
extern const ActionKind kCycle;

}  // namespace emberline::faults
