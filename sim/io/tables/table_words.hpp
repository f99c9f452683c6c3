#pragma once

#include <string>
#include <string_view>

#include "sim/registers/register_table.hpp"

namespace emberline::io {

/// The words of a register table file, as files and listings have them.
[[nodiscard]] std::string_view word_of(registers::Access access);            ///< "read-write"
[[nodiscard]] std::string_view word_of(registers::OutOfRange out_of_range);  ///< "exception-03"
[[nodiscard]] std::string_view word_of(registers::WordOrder order);          ///< "high-first"
[[nodiscard]] std::string_view word_of(registers::ByteOrder order);          ///< "high-first"
/// "coils", "discrete", "holding", "input".
[[nodiscard]] std::string_view word_of(modbus::Table table);

}  // namespace emberline::io
