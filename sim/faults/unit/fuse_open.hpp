#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// melts the fuse in a unit's line.
extern const ActionKind kFuseOpen;

}  // namespace emberline::faults
