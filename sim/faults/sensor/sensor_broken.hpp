#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// breaks the wire of a zone's sensor.
extern const ActionKind kSensorBroken;

}  // namespace emberline::faults
