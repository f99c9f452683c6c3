#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// interrupts a phase of the supply, or all of it.
extern const ActionKind kPhaseLost;

}  // namespace emberline::faults
