#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/diagnostic.hpp"
#include "sim/base/result.hpp"

namespace emberline::io {

/// The cells of a table in CSV (RFC 4180). Places in it are rows and columns, both from 1, as a spreadsheet
/// counts: a cell that goes over several lines stands in one row.
struct CsvTable {
  std::string file;
  char delimiter = ',';
  std::vector<std::vector<std::string>> rows;  ///< an empty line is a row without cells
};

inline constexpr std::size_t kLargestCsv = 8'000'000;  ///< bytes
inline constexpr std::size_t kMostCsvRows = 100'000;
inline constexpr std::size_t kMostCsvColumns = 1'000;

/// Takes a CSV text apart: UTF-8 with or without a byte order mark; lines end with CR LF, LF or CR.
/// `delimiter`: nothing is the one of comma, semicolon and tab that parts the row behind `skip_rows` into
/// most cells. One complaint with row and column for what is no CSV: bytes that are not UTF-8, a quote inside
/// a cell that is not doubled, one that is never closed, too many rows or columns.
[[nodiscard]] Result<CsvTable, Diagnostic> parse_csv(const std::string& file, std::string text,
                                                     std::optional<char> delimiter, int skip_rows);
/// The same of a file, up to kLargestCsv.
[[nodiscard]] Result<CsvTable, Diagnostic> read_csv(const std::string& file, std::optional<char> delimiter,
                                                    int skip_rows);

}  // namespace emberline::io
