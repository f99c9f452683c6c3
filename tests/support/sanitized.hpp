#pragma once

namespace emberline::testing {

/// True in a build under a sanitizer, where long loops have to be shorter.
#if defined(EMBERLINE_SANITIZED)
inline constexpr bool kSanitized = true;
#else
inline constexpr bool kSanitized = false;
#endif

}  // namespace emberline::testing
