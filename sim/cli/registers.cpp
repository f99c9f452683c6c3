#include <algorithm>
#include <optional>

#include "sim/base/listed.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/exit_code.hpp"
#include "sim/cli/format_choice.hpp"
#include "sim/cli/output.hpp"
#include "sim/cli/reports.hpp"
#include "sim/io/files/load.hpp"
#include "sim/io/tables/table_formats.hpp"
#include "sim/io/tables/table_yaml.hpp"

namespace emberline::cli {
namespace {

constexpr const char* kProgram = "emberline " EMBERLINE_VERSION;

/// One of the words after --as.
struct Format {
  std::string_view word;
  bool one_table;  ///< a file of it holds one table only
  std::string (*write)(const io::RegisterList& list);
};

constexpr Format kFormats[] = {
    {"text", false, io::registers_text},
    {"markdown", false, io::registers_markdown},
    {"csv", true, [](const io::RegisterList& list) { return io::registers_csv(*list.tables.front().table); }},
    {"json", false, io::registers_json},
    {"html", false, io::registers_html},
    {"st", false, io::registers_st},
    {"yaml", true, [](const io::RegisterList& list) { return io::table_yaml(*list.tables.front().table); }},
};

/// What is listed, and the files it is read from.
struct Source {
  io::RegisterList list;
  std::vector<std::string> files;
};

/// Units that use one file share one listing.
void add_unit(const bench::UnitEntry& entry, io::RegisterList& list) {
  const auto& unit = entry.unit;
  auto place = std::find_if(list.tables.begin(), list.tables.end(),
                            [&unit](const io::ListedTable& listed) { return listed.table == unit.table; });
  if (place == list.tables.end()) place = list.tables.insert(place, {unit.table, {}});
  place->users.push_back({unit.name, unit.id, unit.lines, unit.intake.largest_block.value_or(0)});
}

std::optional<Source> of_bench(const RegistersOptions& options) {
  const auto spec = io::load_bench(options.file);
  if (!spec) {
    complain(spec.error());
    return std::nullopt;
  }
  io::RegisterList list{spec->title, kProgram, {}};
  std::vector<std::string> units;
  for (const auto& entry : spec->units) {
    units.push_back(entry.unit.name);
    if (options.unit.empty() || options.unit == entry.unit.name) add_unit(entry, list);
  }
  if (!list.tables.empty()) return Source{std::move(list), with_its_tables(options.file, *spec)};
  complain(options.file + ": no unit is called '" + options.unit + "': expected one of " + listed(units));
  return std::nullopt;
}

std::optional<Source> of_table(const RegistersOptions& options) {
  if (!options.unit.empty()) {
    complain(options.file + ": a register table has no units: --unit is for benches");
    return std::nullopt;
  }
  auto table = io::load_register_table(options.file);
  if (!table) {
    complain(table.error());
    return std::nullopt;
  }
  const auto title = table.value()->title();
  return Source{{title, kProgram, {{std::move(table).value(), {}}}}, {options.file}};
}

/// What is to be listed; nothing, after complaints, if that cannot be.
std::optional<Source> source_of(const RegistersOptions& options) {
  const auto kind = io::kind_of(options.file);
  if (!kind) {
    complain(kind.error());
    return std::nullopt;
  }
  if (*kind == io::FileKind::bench) return of_bench(options);
  if (*kind == io::FileKind::register_table) return of_table(options);
  complain(options.file + ": has no registers of its own: expected a register table or a bench");
  return std::nullopt;
}

/// True if the format can hold all of the list; otherwise a line that says what can be done.
bool fits(const io::RegisterList& list, const Format& format, const std::string& file) {
  if (!format.one_table || list.tables.size() == 1) return true;
  std::vector<std::string> units;
  for (const auto& [table, users] : list.tables)
    for (const auto& user : users) units.push_back(user.name);
  complain(file + ": its units have " + std::to_string(list.tables.size()) + " register tables, and " +
           std::string(format.word) + " holds one: expected --unit and one of " + listed(units));
  return false;
}

}  // namespace

int registers(const RegistersOptions& options) {
  const auto* const format = format_of<Format>(kFormats, options.format);
  if (format == nullptr) return kInputUnusable;
  const auto source = source_of(options);
  if (!source || !fits(source->list, *format, options.file) || !spares_inputs(options.out, source->files))
    return kInputUnusable;
  return give_out(options.out, format->write(source->list)) ? kAllWell : kSurroundingsFailed;
}

}  // namespace emberline::cli
