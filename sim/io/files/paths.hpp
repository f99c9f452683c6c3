#pragma once

#include <string>

namespace emberline::io {

/// The path of a file that another one names: relative ones count from the folder of the file they stand in.
[[nodiscard]] std::string path_beside(const std::string& file, const std::string& named);

}  // namespace emberline::io
