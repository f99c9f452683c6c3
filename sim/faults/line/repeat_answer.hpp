#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// answers come twice.
extern const ActionKind kRepeatAnswer;

}  // namespace emberline::faults
