#pragma once

#include <string>

namespace emberline::io {

/// 128 bits that nobody can guess, as 32 hexadecimal digits, from the system's own source. The one place in
/// the program where chance is not seeded: nothing that is simulated hangs on it.
[[nodiscard]] std::string new_session_id();

}  // namespace emberline::io
