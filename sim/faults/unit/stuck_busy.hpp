#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// a unit answers everything with exception 06, until it is freed.
extern const ActionKind kStuckBusy;

}  // namespace emberline::faults
