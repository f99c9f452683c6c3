#pragma once

#include <string>

namespace emberline::io {

/// The version of libmodbus that this program was compiled against, such as "3.1.6".
[[nodiscard]] std::string modbus_compiled_version();
/// The version of the one that answers now, by its own account.
[[nodiscard]] std::string modbus_linked_version();

}  // namespace emberline::io
