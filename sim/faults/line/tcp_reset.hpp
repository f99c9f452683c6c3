#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// tears down all connections of a line, once.
extern const ActionKind kTcpReset;

}  // namespace emberline::faults
