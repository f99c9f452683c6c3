#pragma once

#include <optional>

#include "sim/cli/new.hpp"

namespace emberline::cli {

/// Takes the answers from flags, from defaults if --yes was given, and from whoever sits at the terminal for
/// all others. Nothing, after a complaint, when an answer cannot be used or is not to be had.
[[nodiscard]] std::optional<Answers> find_answers(const NewOptions& options);

}  // namespace emberline::cli
