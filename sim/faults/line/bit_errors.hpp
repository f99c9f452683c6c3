#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// turns bits over, each with the same chance.
extern const ActionKind kBitErrors;

}  // namespace emberline::faults
