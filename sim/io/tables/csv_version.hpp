#pragma once

#include <string>

namespace emberline::io {

/// The version of libcsv that this program was compiled against, such as "3.0.3"; the library itself tells
/// none.
[[nodiscard]] std::string csv_compiled_version();

}  // namespace emberline::io
