#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// accepts connections and does nothing on any.
extern const ActionKind kTcpSilent;

}  // namespace emberline::faults
