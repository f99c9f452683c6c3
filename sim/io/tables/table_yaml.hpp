#pragma once

#include <string>
#include <vector>

#include "sim/registers/register_table.hpp"

namespace emberline::io {

/// What stands beside the rows of a written table, each on one line, without the '#'.
struct TableComments {
  std::string first_line;            ///< above everything, as it is: a schema for editors; empty: none
  std::vector<std::string> of_rows;  ///< behind each row; empty, or as many as there are rows
  std::vector<std::string> at_end;   ///< lines below the table
};

/// A register table as a file. Loading it gives these rows again, every value to the last bit; rows stand in
/// their order, so that what is found first is found first again. Addresses are zero-based and hexadecimal.
/// A number in % that is no
/// decimal one times 0.01 is written as the nearest that is.
[[nodiscard]] std::string table_yaml(const registers::TableParts& parts, const TableComments& comments = {});
/// The same of a table that is in use; input registers that are the same as holding are written so.
[[nodiscard]] std::string table_yaml(const registers::RegisterTable& table);

/// A number with its unit that a file of ours reads as this very value.
[[nodiscard]] std::string exact_quantity(double value, Dimension dimension);

}  // namespace emberline::io
