#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// lets a thyristor miss its pulse now and then.
extern const ActionKind kMisfiring;

}  // namespace emberline::faults
