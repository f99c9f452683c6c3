#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// refuses new connections; those that are there go on.
extern const ActionKind kTcpRefused;

}  // namespace emberline::faults
