#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/io/tables/import_cells.hpp"
#include "sim/io/tables/import_place.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::io {

/// Puts the range that a row of a CSV states into `row`, whose point, access and layout are known; `unit` is
/// the row's. What is taken otherwise is remarked. The fault: a range that the point cannot have.
[[nodiscard]] std::optional<RowFault> read_range(const ImportSetting& setting,
                                                 const std::vector<std::string>& cells,
                                                 const std::optional<UnitCell>& unit, registers::Row& row,
                                                 std::vector<RowRemark>& remarks);

}  // namespace emberline::io
