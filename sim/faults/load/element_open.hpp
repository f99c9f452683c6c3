#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// breaks heating elements of a leg.
extern const ActionKind kElementOpen;

}  // namespace emberline::faults
