#include "tests/support/this_build.hpp"

namespace emberline::testing {

bool sanitized() {
#if defined(EMBERLINE_SANITIZED)
  return true;
#else
  return false;
#endif
}

std::string build_folder() { return EMBERLINE_BINARY_DIR; }

}  // namespace emberline::testing
