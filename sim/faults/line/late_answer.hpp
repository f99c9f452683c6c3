#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// answers come when the next request has been sent, ahead of that request's own.
extern const ActionKind kLateAnswer;

}  // namespace emberline::faults
