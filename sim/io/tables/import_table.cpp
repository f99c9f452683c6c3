#include "sim/io/tables/import_table.hpp"

#include <algorithm>
#include <cstddef>
#include <iterator>
#include <set>
#include <utility>
#include <vector>

#include "sim/io/tables/import_cells.hpp"
#include "sim/io/tables/import_meaning.hpp"
#include "sim/io/tables/import_place.hpp"
#include "sim/registers/row_overlap.hpp"
#include "sim/registers/table_check.hpp"

namespace emberline::io {
namespace {

using registers::Type;

class TableImport {
 public:
  TableImport(const ImportSetting& setting, ImportedTable& table) : setting_(setting), table_(table) {}

  void run() {
    const auto& rows = setting_.csv.rows;
    auto i = static_cast<std::size_t>(setting_.mapping.skip_rows) + 1;
    while (i < rows.size()) {
      const auto first = i++;
      if (blank(rows[first])) continue;
      // Bits belong to the register above, however far above it stands.
      std::vector<std::size_t> bits;
      for (; i < rows.size() && (blank(rows[i]) || is_bit_row(setting_, rows[i])); ++i)
        if (!blank(rows[i])) bits.push_back(i);
      group(first, bits);
    }
  }

 private:
  static bool blank(const std::vector<std::string>& cells) {
    return std::all_of(cells.begin(), cells.end(), [](const auto& cell) { return trimmed(cell).empty(); });
  }

  /// A row, and the rows below it that name its bits.
  void group(std::size_t first, const std::vector<std::size_t>& bits) {
    const auto& rows = setting_.csv.rows;
    const auto place = place_of_row(setting_, rows[first], nullptr);
    if (!place) {
      leave_out(first, place.error());
      for (const auto i : bits)
        leave_out(
            i, {TableColumn::address, "its register, row " + std::to_string(first + 1) + ", is not placed"});
      return;
    }
    if (bits.empty()) return whole_row(first, *place);
    const auto name = name_of_row(setting_, rows[first]);
    const auto rows_before = table_.parts.rows.size();
    std::vector<std::pair<std::size_t, RowFault>> failed;
    for (const auto i : bits)
      if (auto fault = bit_row(i, *place, name)) failed.emplace_back(i, std::move(*fault));
    if (table_.parts.rows.size() > rows_before) {
      ++table_.rows_placed;
      remark(first, TableColumn::address, "is carried by the rows of its bits");
      for (const auto& [row, fault] : failed) unplaced_bits(row, *place, fault);
      return;
    }
    // None of its bits is ours, so the register may be as a whole.
    whole_row(first, *place);
    for (const auto& [row, fault] : failed) leave_out(row, fault);
  }

  std::optional<RowFault> bit_row(std::size_t row, const RowPlace& above, const std::string& register_name) {
    const auto& cells = setting_.csv.rows[row];
    const auto place = place_of_row(setting_, cells, &above);
    if (!place) return place.error();
    auto meaning = meaning_of_row(setting_, cells, *place, register_name);
    if (!meaning) return meaning.error();
    return keep(row, std::move(meaning).value());
  }

  void unplaced_bits(std::size_t row, const RowPlace& above, const RowFault& fault) {
    const auto place = place_of_row(setting_, setting_.csv.rows[row], &above);
    if (!place || !as_fixed(row, *place, fault)) leave_out(row, fault);
  }

  void whole_row(std::size_t row, const RowPlace& place) {
    auto meaning = meaning_of_row(setting_, setting_.csv.rows[row], place, {});
    auto fault = meaning ? keep(row, std::move(meaning).value()) : std::optional(meaning.error());
    if (fault && !as_fixed(row, place, *fault)) leave_out(row, *fault);
  }

  /// A register that always reads 0, in place of a value of which there is none here.
  bool as_fixed(std::size_t row, const RowPlace& place, const RowFault& fault) {
    if (!setting_.mapping.unplaced_fixed || place.row.layout.type == Type::text) return false;
    auto fixed = place.row;
    fixed.fixed = 0.0;
    fixed.access = registers::Access::read_only;
    fixed.write_mask.reset();
    fixed.kept = false;
    registers::TableParts alone;
    alone.rows.push_back(fixed);
    if (!registers::problems_of(alone).empty() || taken_.conflict_of(fixed)) return false;
    leave_out(row, {fault.column, fault.why + "; reads 0", fault.csv_column});
    add_row(row, {std::move(fixed), false, {}});
    return true;
  }

  /// Places what a row means, but for what overlaps earlier rows. The fault: that is all of it.
  std::optional<RowFault> keep(std::size_t row, RowMeaning meaning) {
    std::vector<std::string> overlaps;
    std::vector<MadeRow> free;
    for (auto& made : meaning.rows) {
      const auto conflict = taken_.conflict_of(made.row);
      if (!conflict) {
        free.push_back(std::move(made));
        continue;
      }
      const auto where = ", row " + std::to_string(table_.sources[conflict->row].csv_row);
      overlaps.push_back(registers::told(*conflict, table_.parts.rows[conflict->row], where));
    }
    if (free.empty()) return RowFault{TableColumn::address, overlaps.front()};
    meaning.rows = std::move(free);
    for (auto& overlap : overlaps)
      meaning.remarks.push_back({TableColumn::address, "one of its bits " + overlap + ", and is left out"});
    ++table_.rows_placed;
    if (meaning.access_assumed) assume_access(row);
    if (std::any_of(meaning.rows.begin(), meaning.rows.end(), [](const auto& made) { return made.guessed; }))
      ++table_.rows_guessed;
    for (auto& made : meaning.rows) add_row(row, std::move(made));
    for (auto& said : meaning.remarks)
      if (!said.once || told_once_.insert(said.text).second) remark(row, said.column, std::move(said.text));
    return std::nullopt;
  }

  void assume_access(std::size_t row) {
    if (setting_.columns.number(TableColumn::access) == 0)
      ++table_.access_assumed;
    else
      remark(row, TableColumn::access, "access is not stated: read-only");
  }

  void add_row(std::size_t row, MadeRow made) {
    made.row.place = place_of(row, TableColumn::address);
    taken_.add(made.row, table_.parts.rows.size());
    table_.parts.rows.push_back(std::move(made.row));
    table_.sources.push_back(
        {static_cast<int>(row) + 1, name_of(row), made.guessed, std::move(made.because)});
  }

  Place place_of(std::size_t row, TableColumn column) const {
    const int number = setting_.columns.number(column);
    return {setting_.csv.file, static_cast<int>(row) + 1, std::max(number, 1)};
  }
  std::string name_of(std::size_t row) const {
    return setting_.cell(setting_.csv.rows[row], TableColumn::name);
  }
  void leave_out(std::size_t row, const RowFault& fault) {
    auto name = name_of(row);
    // A heading between the rows has its words somewhere.
    for (const auto& cell : setting_.csv.rows[row])
      if (name.empty()) name = trimmed(cell);
    auto place = place_of(row, fault.column);
    if (fault.csv_column > 0) place.column = fault.csv_column;
    table_.left_out.push_back({std::move(place), std::move(name), fault.why});
  }
  void remark(std::size_t row, TableColumn column, std::string text) {
    table_.remarks.push_back({place_of(row, column), name_of(row), std::move(text)});
  }

  const ImportSetting& setting_;
  ImportedTable& table_;
  registers::TakenRegisters taken_;
  std::set<std::string> told_once_;
};

/// "my-device" of "tables/my-device.csv".
std::string stem_of(const std::string& file) {
  const auto slash = file.find_last_of('/');
  auto name = slash == std::string::npos ? file : file.substr(slash + 1);
  const auto dot = name.find_last_of('.');
  if (dot != std::string::npos && dot > 0) name.resize(dot);
  return name.empty() ? "imported" : name;
}

/// Addresses with 0x count from zero, so nothing has to be said of it (common practice, no source).
bool all_hexadecimal(const CsvTable& csv, const TableMapping& mapping, const ColumnPlaces& columns) {
  const auto first = csv.rows.begin() + std::min<std::ptrdiff_t>(mapping.skip_rows + 1, std::ssize(csv.rows));
  return std::all_of(first, csv.rows.end(), [&columns](const auto& row) {
    const auto cell = columns.cell(row, TableColumn::address);
    return cell.empty() || cell.starts_with("0x") || cell.starts_with("0X");
  });
}

}  // namespace

Result<ImportedTable, Diagnostic> import_table(const CsvTable& csv, const TableMapping& mapping,
                                               const std::string& title) {
  const auto columns = find_columns(csv, mapping);
  if (!columns) return Failure{columns.error()};
  ImportedTable table;
  table.numbering = likely_numbering(csv, mapping, *columns);
  table.numbering_assumed = !mapping.numbering && !all_hexadecimal(csv, mapping, *columns);
  table.parts.title = !title.empty() ? title : !mapping.title.empty() ? mapping.title : stem_of(csv.file);
  TableImport({csv, mapping, *columns, table.numbering, bits_behind_addresses(csv, mapping, *columns)}, table)
      .run();
  if (table.sources.empty() && table.left_out.empty())
    return Failure{
        Diagnostic{{csv.file, mapping.skip_rows + 2, 1}, "no rows below the header, expected some"}};
  if (table.parts.rows.empty()) return table;
  if (auto made = registers::make_register_table(table.parts); !made) table.problems = made.error();
  return table;
}

}  // namespace emberline::io
