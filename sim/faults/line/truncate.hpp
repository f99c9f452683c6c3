#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// answers lose their last bytes.
extern const ActionKind kTruncate;

}  // namespace emberline::faults
