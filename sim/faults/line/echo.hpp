#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// masters hear their own requests.
extern const ActionKind kEcho;

}  // namespace emberline::faults
