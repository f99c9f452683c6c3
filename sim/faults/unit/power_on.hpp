#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// gives a unit its control supply back; it starts up first.
extern const ActionKind kPowerOn;

}  // namespace emberline::faults
