#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// holds frames up, by a fixed time and up to as much more by chance.
extern const ActionKind kDelay;

}  // namespace emberline::faults
