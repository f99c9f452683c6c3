#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// connections that are there go dead without anybody being told; new ones are good.
extern const ActionKind kHalfOpen;

}  // namespace emberline::faults
