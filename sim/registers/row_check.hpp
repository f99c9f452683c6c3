#pragma once

#include <string>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::registers {

/// Adds everything that is wrong with one row by itself, with the row's place.
void check_row(const Row& row, std::vector<Diagnostic>& problems);

/// "setpoint at 0x0030 (40049)", for messages.
[[nodiscard]] std::string described(const Row& row);

}  // namespace emberline::registers
