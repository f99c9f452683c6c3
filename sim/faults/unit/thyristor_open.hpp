#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// lets a thyristor conduct no more.
extern const ActionKind kThyristorOpen;

}  // namespace emberline::faults
