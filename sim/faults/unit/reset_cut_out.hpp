#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// resets the excess-temperature cut-out of a zone by hand.
extern const ActionKind kResetCutOut;

}  // namespace emberline::faults
