#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// plugs the cable of a line in again.
extern const ActionKind kRestore;

}  // namespace emberline::faults
