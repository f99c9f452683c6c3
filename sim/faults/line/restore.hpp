#pragma once

#include "sim/faults/action.hpp"

namespace emberline::faults {

/// makes a line good again: plugs the cable in, lifts all impairments.
extern const ActionKind kRestore;

/// The value of its key `only` for this word.
[[nodiscard]] double restore_only(std::string_view word);

}  // namespace emberline::faults
