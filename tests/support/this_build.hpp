#pragma once

#include <string>

namespace emberline::testing {

// What differs from build to build is asked for, so that one compilation of the tests serves several builds.

/// True in a build under a sanitizer, where long loops have to be shorter.
[[nodiscard]] bool sanitized();
/// True where time is no matter: EMBERLINE_LONG is in the environment, as `tests/run.sh --all` has it.
[[nodiscard]] bool long_run();
/// How many times as long as usual a property test plays: 10 in a long run, else 1.
[[nodiscard]] int times_as_long();
/// The folder of the build, where tests may write.
[[nodiscard]] std::string build_folder();

}  // namespace emberline::testing
