#pragma once

namespace emberline::testing {

/// True in a build under a sanitizer, where long loops have to be shorter.
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
inline constexpr bool kSanitized = true;
#else
inline constexpr bool kSanitized = false;
#endif

}  // namespace emberline::testing
