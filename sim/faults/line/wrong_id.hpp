#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// answers come from another unit id.
extern const ActionKind kWrongId;

}  // namespace emberline::faults
