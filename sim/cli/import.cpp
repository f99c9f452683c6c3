#include "sim/cli/import.hpp"

#include <cstdio>
#include <string>
#include <string_view>

#include <CLI/CLI.hpp>

#include "sim/base/plain_text.hpp"
#include "sim/base/utf8.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/reports.hpp"
#include "sim/cli/schema_line.hpp"
#include "sim/io/files/table_mapping_file.hpp"
#include "sim/io/tables/csv_reader.hpp"
#include "sim/io/tables/import_table.hpp"

namespace emberline::cli {
namespace {

constexpr std::size_t kLargestTable = 1'000'000;  // that the loader of register tables takes

/// For the file after --out; what is printed has none.
std::string schema_line_of(const std::string& out) {
  return out.empty() ? "" : schema_line(led_to(out).parent_path(), "register-table.json");
}

/// False after a complaint about a title that a file of ours could not hold.
bool title_usable(const std::string& title) {
  if (!first_not_utf8(title) && one_line(title) == title) return true;
  complain("--title: expected a text on one line");
  return false;
}

}  // namespace

void add_import(CLI::App& app, ImportOptions& options) {
  auto* command = app.add_subcommand("import", "Make a register table of the one that comes with a device");
  command->add_option("TABLE", options.table, "The device's table as CSV (UTF-8)")->required();
  command->add_option("--mapping", options.mapping,
                      "How to read it: a table mapping; without it plain columns are found by their names");
  command->add_option("--out", options.out, "Write the register table to this file, whole or not at all");
  command->add_option("--title", options.title, "Title of the register table");
  command->footer(
      "Points are found by name and unit. Those that are guessed say so in the table and in the summary, and "
      "have\n"
      "to be looked at: a wrong point reads plausible numbers. Rows without a point are listed with the "
      "reason.\n"
      "Exit status: 0 at least one row is placed and the table is good, 2 otherwise, 3 it cannot be "
      "written.\n"
      "Examples:\n"
      "  emberline registers config/registers/metering.yaml --as csv --out metering.csv\n"
      "  emberline import metering.csv --title 'Metering again'\n"
      "  emberline import config/samples/furnace.csv --mapping config/mappings/one-based.yaml --out "
      "furnace.yaml\n"
      "  emberline check furnace.yaml\n");
}

int import_table_file(const ImportOptions& options) {
  if (!title_usable(options.title)) return kInputUnusable;
  io::TableMapping mapping;
  if (!options.mapping.empty()) {
    auto loaded = io::load_table_mapping(options.mapping);
    if (!loaded) {
      complain(loaded.error());
      return kInputUnusable;
    }
    mapping = std::move(loaded).value();
  }
  if (!spares_inputs(options.out, {options.table, options.mapping})) return kInputUnusable;
  const auto csv = io::read_csv(options.table, mapping.delimiter, mapping.skip_rows);
  if (!csv) {
    complain(io::Problems{csv.error()});
    return kInputUnusable;
  }
  const auto table = io::import_table(*csv, mapping, options.title);
  if (!table) {
    complain(io::Problems{table.error()});
    return kInputUnusable;
  }
  (void)std::fputs(io::import_summary(*table, options.table).c_str(), stderr);
  if (!table->problems.empty()) complain(table->problems);
  if (table->rows_placed == 0) complain(options.table + ": no row is placed, so there is no register table");
  if (!table->problems.empty() || table->rows_placed == 0) return kInputUnusable;
  const auto text = io::import_yaml(*table, schema_line_of(options.out));
  if (text.size() > kLargestTable) {
    complain(options.table + ": the register table would be larger than 1 MB, which no command takes");
    return kInputUnusable;
  }
  return give_out(options.out, text) ? kAllWell : kSurroundingsFailed;
}

}  // namespace emberline::cli
