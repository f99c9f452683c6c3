#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// changes the resistance of the elements of a leg.
extern const ActionKind kAgeing;

}  // namespace emberline::faults
