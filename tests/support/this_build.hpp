#pragma once

#include <string>

namespace emberline::testing {

// What differs from build to build is asked for, so that one compilation of the tests serves several builds.

/// True in a build under a sanitizer, where long loops have to be shorter.
[[nodiscard]] bool sanitized();
/// True where time is no matter (EMBERLINE_LONG in the environment, as `tests/run.sh --all` has it): property
/// tests play ten times as long.
[[nodiscard]] bool long_run();
/// The folder of the build, where tests may write.
[[nodiscard]] std::string build_folder();

}  // namespace emberline::testing
