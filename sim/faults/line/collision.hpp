#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// a second device answers to a unit id at the same time.
extern const ActionKind kCollision;

}  // namespace emberline::faults
