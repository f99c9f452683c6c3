#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// breaks a whole leg of a load.
extern const ActionKind kLegOpen;

}  // namespace emberline::faults
