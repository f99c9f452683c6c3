#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// loses requests on their way to the units.
extern const ActionKind kDropRequests;

}  // namespace emberline::faults
