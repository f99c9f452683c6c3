#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// connects lost phases again.
extern const ActionKind kPhaseBack;

}  // namespace emberline::faults
