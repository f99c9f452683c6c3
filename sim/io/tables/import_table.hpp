#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/io/files/table_mapping_file.hpp"
#include "sim/io/tables/csv_reader.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::io {

/// A register table made of somebody else's, and what became of each of its rows.
struct ImportedTable {
  registers::TableParts parts;  ///< places of rows: the CSV's row and the column of its address

  /// Where a row of `parts` comes from; as many as these, in their order.
  struct Source {
    int csv_row = 0;
    std::string name;  ///< as the CSV has it
    bool guessed = false;
    std::string because;  ///< of a guess
  };
  std::vector<Source> sources;

  /// Something about a row of the CSV. The place is row and column.
  struct Remark {
    Place place;
    std::string name;
    std::string text;
  };
  std::vector<Remark> left_out;  ///< rows that are not placed, and why
  std::vector<Remark> remarks;   ///< what was taken otherwise than it stands there, or not at all

  std::size_t rows_placed = 0;   ///< of the CSV
  std::size_t rows_guessed = 0;  ///< of these
  registers::Numbering numbering = registers::Numbering::zero_based;
  bool numbering_assumed = false;  ///< the mapping says nothing of it
  std::size_t access_assumed = 0;  ///< rows that could be written, where no column says what may be

  /// What the table as a whole has against it. Empty: make_register_table takes it.
  std::vector<Diagnostic> problems;
};

/// Turns a CSV into a register table. Every row that is not blank is in `sources`, or in `left_out` with a
/// reason; one that overlaps an earlier one is left out. `title`: empty is the mapping's, or the name of the
/// CSV. The error is about the CSV or the mapping as a whole: no header, no column of addresses, no rows.
[[nodiscard]] Result<ImportedTable, Diagnostic> import_table(const CsvTable& csv, const TableMapping& mapping,
                                                             const std::string& title);

/// The file: a register table, with guesses marked and what was left out at its end. `first_line` stands
/// above it.
[[nodiscard]] std::string import_yaml(const ImportedTable& table, const std::string& first_line);
/// What became of the rows, for people.
[[nodiscard]] std::string import_summary(const ImportedTable& table, const std::string& csv_file);

}  // namespace emberline::io
