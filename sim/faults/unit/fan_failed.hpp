#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// stops the fan of a unit's heat sink.
extern const ActionKind kFanFailed;

}  // namespace emberline::faults
