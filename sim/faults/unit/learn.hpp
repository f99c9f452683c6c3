#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// lets a unit learn anew what its load is like.
extern const ActionKind kLearn;

}  // namespace emberline::faults
