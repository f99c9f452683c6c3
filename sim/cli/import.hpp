#pragma once

#include <string>

namespace CLI {  // NOLINT(readability-identifier-naming): of the library
class App;
}

namespace emberline::cli {

/// `emberline import TABLE.csv`: makes a register table of the one that comes with a device.
struct ImportOptions {
  std::string table;
  std::string mapping;  ///< empty: as plain tables are
  std::string out;      ///< empty: standard output
  std::string title;    ///< empty: the mapping's, or the CSV's name
};

void add_import(CLI::App& app, ImportOptions& options);
[[nodiscard]] int import_table_file(const ImportOptions& options);

}  // namespace emberline::cli
