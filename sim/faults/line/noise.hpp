#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// puts random bytes before, over or behind frames.
extern const ActionKind kNoise;

}  // namespace emberline::faults
