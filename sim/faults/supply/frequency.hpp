#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// changes the frequency of the supply.
extern const ActionKind kFrequency;

}  // namespace emberline::faults
