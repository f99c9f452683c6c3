#pragma once

#include <utility>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::registers {

/// Everything wrong with a table, each with its row's place, in the order of the rows; empty if it can be
/// used. For make_register_table.
[[nodiscard]] std::vector<Diagnostic> problems_of(const TableParts& parts);

/// Lowest and highest value (SI) that registers of this layout can carry.
[[nodiscard]] std::pair<double, double> carried_range(const Layout& layout);

/// How many bits of a bit field registers of this layout have room for: the sign is not one of them, and of
/// type bits it is those of the mask. 0 where they carry no bit field.
[[nodiscard]] int flag_bits(const Layout& layout);

}  // namespace emberline::registers
