#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// changes the voltage of the supply, or of one phase.
extern const ActionKind kDip;

}  // namespace emberline::faults
