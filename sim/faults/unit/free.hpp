#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// a unit that was stuck at busy takes requests up again.
extern const ActionKind kFree;

}  // namespace emberline::faults
