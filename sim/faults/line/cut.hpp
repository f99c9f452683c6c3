#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// pulls the cable of a line: nothing gets through, either way, until it is restored.
extern const ActionKind kCut;

}  // namespace emberline::faults
