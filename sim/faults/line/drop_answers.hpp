#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// loses answers on their way to the masters: the units have acted.
extern const ActionKind kDropAnswers;

}  // namespace emberline::faults
