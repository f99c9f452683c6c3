#include "tests/support/this_build.hpp"

#include <cstdlib>

namespace emberline::testing {

bool sanitized() {
#if defined(EMBERLINE_SANITIZED)
  return true;
#else
  return false;
#endif
}

bool long_run() { return std::getenv("EMBERLINE_LONG") != nullptr; }

int times_as_long() { return long_run() ? 10 : 1; }

std::string build_folder() { return EMBERLINE_BINARY_DIR; }

}  // namespace emberline::testing
