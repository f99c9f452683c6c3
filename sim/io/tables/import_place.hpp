#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/io/tables/import_columns.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::io {

/// Why a row of a CSV cannot be used as it is: in which column, and what was expected.
struct RowFault {
  TableColumn column = TableColumn::address;
  std::string why;
  int csv_column = 0;  ///< from 1, if it is in a column that is not read; else 0
};

/// Something a row of a CSV says that was taken differently, or not at all.
struct RowRemark {
  TableColumn column = TableColumn::name;
  std::string text;
  bool once = false;  ///< true of every row that says it, so the first one is enough
};

/// Everything that stays the same from row to row.
struct ImportSetting {
  const CsvTable& csv;
  const TableMapping& mapping;
  const ColumnPlaces& columns;
  registers::Numbering numbering = registers::Numbering::zero_based;
  bool bits_behind_addresses = false;  ///< as bits_behind_addresses() has it

  [[nodiscard]] std::string cell(const std::vector<std::string>& row, TableColumn column) const {
    return columns.cell(row, column);
  }
};

/// Where a value stands, before it is known which.
struct RowPlace {
  registers::Row row;  ///< table, address, layout but for its scale, access and what masters may do
  bool access_stated = false;
  bool single_bit_stated = false;  ///< type, mask or table say that it is one bit
  std::vector<RowRemark> remarks;
};

/// True if a row has no address of its own and belongs to the register above it: it names bits.
[[nodiscard]] bool is_bit_row(const ImportSetting& setting, const std::vector<std::string>& cells);
/// "Comms loss" of "Bit 3: Comms loss"; other names as they are.
[[nodiscard]] std::string name_of_row(const ImportSetting& setting, const std::vector<std::string>& cells);

/// Reads where a row stands. `above` is the register that a bit row belongs to, or null.
[[nodiscard]] Result<RowPlace, RowFault> place_of_row(const ImportSetting& setting,
                                                      const std::vector<std::string>& cells,
                                                      const RowPlace* above);

/// True if some address has a bit other than 0 behind it, "40001.3"; else "40001.0" may be a number as a
/// spreadsheet writes it.
[[nodiscard]] bool bits_behind_addresses(const CsvTable& csv, const TableMapping& mapping,
                                         const ColumnPlaces& columns);

/// Which numbering the addresses have that a mapping says nothing of: reference where every one looks like
/// it.
[[nodiscard]] registers::Numbering likely_numbering(const CsvTable& csv, const TableMapping& mapping,
                                                    const ColumnPlaces& columns);

}  // namespace emberline::io
