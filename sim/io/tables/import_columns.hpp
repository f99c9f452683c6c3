#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "sim/io/files/table_mapping_file.hpp"
#include "sim/io/tables/csv_reader.hpp"

namespace emberline::io {

/// Where in its rows a CSV holds what.
struct ColumnPlaces {
  std::array<std::optional<std::size_t>, kTableColumns> at{};
  ScaleHabit scale = ScaleHabit::factor;  ///< as the mapping says, or the header of the scale's column
  std::string scale_header;               ///< of that column; empty if there is none
  AddressHabit addresses = AddressHabit::as_written;  ///< as the mapping says, or the header
  std::array<bool, kTableColumns> hexadecimal{};      ///< of addresses and masks, where the header says so

  /// A column that changes values by its header, and is not read.
  struct UnusedScale {
    std::size_t column = 0;
    std::string header;
    ScaleHabit habit = ScaleHabit::factor;
    bool offset = false;
  };
  std::vector<UnusedScale> unused_scales;  ///< no factors where the mapping names the scale's column

  /// The cell of a row, without blanks around it; empty where there is none.
  [[nodiscard]] std::string cell(const std::vector<std::string>& row, TableColumn column) const;
  [[nodiscard]] bool is_hexadecimal(TableColumn column) const;
  /// Counts from 1; 0 where there is no such column.
  [[nodiscard]] int number(TableColumn column) const;
};

/// Finds the columns in the header: those that the mapping names, and the others by usual words (common
/// practice, no source). The error: no header, no addresses or several columns that could be, a column of the
/// mapping that is not there or means two things, or a header that is read and stands there twice.
[[nodiscard]] Result<ColumnPlaces, Diagnostic> find_columns(const CsvTable& csv, const TableMapping& mapping);

}  // namespace emberline::io
