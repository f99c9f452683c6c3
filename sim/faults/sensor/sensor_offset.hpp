#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// lets a zone's sensor show too much or too little.
extern const ActionKind kSensorOffset;

}  // namespace emberline::faults
