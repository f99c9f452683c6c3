#pragma once

#include <string>
#include <vector>

#include "sim/io/tables/import_place.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::io {

/// A row of ours made of a row of a CSV.
struct MadeRow {
  registers::Row row;
  bool guessed = false;
  std::string because;  ///< of a guess: "Load current L1", A
};

/// What a row of a CSV became: one row, or one for each bit it lists.
struct RowMeaning {
  std::vector<MadeRow> rows;
  std::vector<RowRemark> remarks;
  bool access_assumed = false;  ///< nothing says whether it may be written, and it could be
};

/// Finds out which value stands there, and in which scale. `register_name` is the name of the register that a
/// bit row belongs to, else empty.
[[nodiscard]] Result<RowMeaning, RowFault> meaning_of_row(const ImportSetting& setting,
                                                          const std::vector<std::string>& cells,
                                                          const RowPlace& place,
                                                          const std::string& register_name);

}  // namespace emberline::io
