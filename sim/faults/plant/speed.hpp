#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// lets zones, walls and sensors run faster than electrical time.
extern const ActionKind kSpeed;

}  // namespace emberline::faults
