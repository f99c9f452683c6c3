#pragma once

#include <string>

#include "sim/io/tables/table_formats.hpp"

namespace emberline::io {

/// The comment a file of Structured Text begins with: what it is of, what stands in it, how to use it, and
/// what the standard leaves to the tool. The example takes a block with the function `take` into a structure
/// of the type `points`.
[[nodiscard]] std::string st_header(const RegisterList& list, const std::string& take,
                                    const std::string& points);

}  // namespace emberline::io
