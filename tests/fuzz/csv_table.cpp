// A CSV and a mapping to the import of register tables: the mapping's text, a zero byte, the CSV. Every row
// is placed or listed, what is made loads again as the same rows, and complaints are lines with a place.
#include <set>
#include <string>
#include <tuple>

#include "sim/io/tables/import_table.hpp"
#include "tests/fuzz/yaml_file.hpp"

using namespace emberline;
using fuzz::must;

namespace {

bool plain_line(const std::string& text) {
  return !text.empty() && std::none_of(text.begin(), text.end(), [](char c) {
    return static_cast<unsigned char>(c) < 0x20 || c == 0x7F;
  });
}

/// Every row that is not blank stands in the table, in the list of what is not, or carries the bits below it.
void check_rows(const io::CsvTable& csv, const io::ImportedTable& table, int skipped) {
  std::set<int> told;
  for (const auto& source : table.sources) told.insert(source.csv_row);
  for (const auto& remark : table.left_out) {
    told.insert(remark.place.line);
    must(remark.place.column >= 1, "a row that is left out has a column");
    must(!remark.text.empty(), "a row that is left out has a reason");
  }
  for (const auto& remark : table.remarks) told.insert(remark.place.line);
  for (std::size_t i = static_cast<std::size_t>(skipped) + 1; i < csv.rows.size(); ++i) {
    const auto has_words = [](const std::string& cell) {
      return cell.find_first_not_of(" \t\n\xC2\xA0") != std::string::npos;
    };
    if (std::any_of(csv.rows[i].begin(), csv.rows[i].end(), has_words))
      must(told.contains(static_cast<int>(i) + 1), "no row is lost");
  }
  must(table.sources.size() == table.parts.rows.size(), "every row says where it comes from");
}

auto key(const registers::Row& row) {
  return std::tie(row.table, row.address, row.point, row.layout.type, row.bit_position, row.flag, row.values,
                  row.flags, row.access, row.layout.mask);
}

}  // namespace

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const fuzz::Workspace workspace("config/registers/fuzzed.yaml");
  const std::string text(reinterpret_cast<const char*>(data), size);
  const auto zero = text.find('\0');
  io::TableMapping mapping;
  if (zero != std::string::npos && zero > 0) {
    workspace.write(data, zero);
    auto loaded = io::load_table_mapping(workspace.path());
    if (!loaded) {
      fuzz::check_problems(loaded.error(), std::string_view(text).substr(0, zero));
    } else {
      mapping = std::move(loaded).value();
    }
  }
  const auto csv = io::parse_csv("t.csv", zero == std::string::npos ? text : text.substr(zero + 1),
                                 mapping.delimiter, mapping.skip_rows);
  if (!csv) {
    must(plain_line(csv.error().message), "a complaint is one plain line");
    return 0;
  }
  const auto table = io::import_table(*csv, mapping, "T");
  if (!table) {
    must(!table.error().message.empty(), "a complaint has words");
    return 0;
  }
  check_rows(*csv, *table, mapping.skip_rows);
  (void)io::import_summary(*table, "t.csv");
  if (!table->problems.empty() || table->parts.rows.empty()) return 0;
  const auto yaml = io::import_yaml(*table, "");
  if (yaml.size() > 1'000'000) return 0;
  workspace.write(reinterpret_cast<const std::uint8_t*>(yaml.data()), yaml.size());
  const auto again = io::load_register_table(workspace.path());
  must(again.has_value(), "what is made of a CSV loads");
  const auto made = registers::make_register_table(table->parts);
  must(made.has_value() && (*made)->rows().size() == (*again)->rows().size(), "it loads as many rows");
  for (std::size_t i = 0; i < (*made)->rows().size(); ++i)
    must(key((*made)->rows()[i]) == key((*again)->rows()[i]), "it loads as the same rows");
  return 0;
}
