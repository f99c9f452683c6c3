#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// lets a thyristor conduct always.
extern const ActionKind kThyristorShorted;

}  // namespace emberline::faults
