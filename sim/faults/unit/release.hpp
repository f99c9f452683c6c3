#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// gives a wire back to what drives it.
extern const ActionKind kRelease;

}  // namespace emberline::faults
