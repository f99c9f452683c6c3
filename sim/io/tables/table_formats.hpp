#pragma once

#include <memory>
#include <string>
#include <vector>

#include "sim/registers/register_table.hpp"

namespace emberline::io {

/// A unit that uses a register table.
struct TableUser {
  std::string name;
  int id = 1;                      ///< unit id, 1 to 247
  std::vector<std::string> lines;  ///< that it answers on
  int largest_block = 0;           ///< registers it takes in one read; 0: no limit of its own
};

/// A register table and who uses it; nobody where a table is listed by itself.
struct ListedTable {
  std::shared_ptr<const registers::RegisterTable> table;
  std::vector<TableUser> users;
};

/// What a list of registers is written from.
struct RegisterList {
  std::string title;    ///< of the file: a bench's, or the table's own
  std::string program;  ///< who writes it: "emberline 0.1.0"
  std::vector<ListedTable> tables;
};

/// The listing for a terminal: every table with who uses it, addresses zero-based (hexadecimal and decimal)
/// beside reference numbers.
[[nodiscard]] std::string registers_text(const RegisterList& list);
/// The same as a Markdown document of tables (GitHub Flavored Markdown, 4.10), for wikis and repositories.
[[nodiscard]] std::string registers_markdown(const RegisterList& list);
/// The same as one HTML page that needs nothing else, light, to be printed on A4.
[[nodiscard]] std::string registers_html(const RegisterList& list);
/// As JSON, as config/schema/register-list.json has it, with the block reads of every unit.
[[nodiscard]] std::string registers_json(const RegisterList& list);
/// One table as CSV (RFC 4180), a line for every row; `import` reads it back. Quantities stand in the column
/// `unit`'s unit; a column is empty where there is nothing to say.
[[nodiscard]] std::string registers_csv(const registers::RegisterTable& table);
/// As Structured Text (IEC 61131-3:2013): addresses, a structure of the points, functions that scale both
/// ways, and the block reads. Standard features only; what the standard leaves to the tool is said in it.
[[nodiscard]] std::string registers_st(const RegisterList& list);

}  // namespace emberline::io
