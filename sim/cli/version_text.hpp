#pragma once

#include <string>

namespace emberline::cli {

/// "emberline 0.1.0".
[[nodiscard]] std::string version_text();
/// The same, with all that a report of a mistake needs: how it was built, with which libraries, on which
/// system it runs. A line each; no path and no name of a machine, and nothing that differs between two builds
/// of the same sources by the same compiler.
[[nodiscard]] std::string verbose_version_text();

}  // namespace emberline::cli
