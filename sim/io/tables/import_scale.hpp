#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/io/tables/import_cells.hpp"
#include "sim/io/tables/import_place.hpp"

namespace emberline::io {

/// What a row of a CSV says of its unit and scale, in whichever columns.
struct StatedScale {
  std::string name;                       ///< of the row, without a unit behind it
  std::optional<UnitCell> unit;           ///< never a plain number
  double number = 1.0;                    ///< value = number carried * this, in the unit
  std::string unit_fault;                 ///< why the unit cannot be read
  std::string scale_fault;                ///< why the scale cannot be read
  std::optional<RowFault> contradiction;  ///< two places do not say the same
  std::vector<RowRemark> remarks;
};
[[nodiscard]] StatedScale stated_scale(const ImportSetting& setting, const std::vector<std::string>& cells,
                                       const std::string& name);

/// What a filled cell of a column that changes the value, and is not read, has against a row whose scale is
/// `number`: another factor or divisor, or an offset. An "offset" that is the row's address is none.
[[nodiscard]] std::optional<RowFault> unused_scale(const ImportSetting& setting,
                                                   const std::vector<std::string>& cells, double number,
                                                   std::uint16_t address);

}  // namespace emberline::io
