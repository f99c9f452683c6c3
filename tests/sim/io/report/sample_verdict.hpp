#pragma once

#include <string>

#include "sim/rehearsal/verdict.hpp"

namespace emberline::testing {

/// A small verdict, made up, with something in every part that reports show.
[[nodiscard]] rehearsal::Verdict sample_verdict();

/// Compares with a file beside the tests; with EMBERLINE_WRITE_GOLDEN in the environment it is written
/// instead.
void check_golden(const std::string& name, const std::string& text);

/// All of a file.
[[nodiscard]] std::string content_of(const std::string& path);

}  // namespace emberline::testing
