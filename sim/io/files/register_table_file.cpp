#include "sim/io/files/register_table_file.hpp"

#include <string_view>

#include "sim/io/files/fields.hpp"
#include "sim/io/files/file_kind.hpp"
#include "sim/io/files/register_row.hpp"
#include "sim/io/files/values.hpp"

namespace emberline::io {
namespace {

using registers::RegisterTable;
using registers::TableParts;

constexpr std::string_view kTableExample = "'register_table: My device'";

RowDefaults read_defaults(Fields& fields, Problems& problems) {
  using registers::Numbering;
  RowDefaults defaults;
  static constexpr Choice<Numbering> kNumberings[] = {{"zero-based", Numbering::zero_based},
                                                      {"one-based", Numbering::one_based},
                                                      {"reference", Numbering::reference}};
  read_word(fields.optional("numbering"), kNumberings, defaults.numbering, problems);
  read_word_order(fields.optional("word_order"), defaults.word_order, problems);
  read_byte_order(fields.optional("byte_order"), defaults.byte_order, problems);
  read_out_of_range(fields.optional("out_of_range"), defaults.out_of_range, problems);
  read_access(fields.optional("access"), defaults.access, problems);
  read_named_words(fields.optional("words"), defaults.words, problems);
  return defaults;
}

void read_rows(const Node* list, modbus::Table table, const RowDefaults& defaults, TableParts& parts,
               Problems& problems) {
  if (list == nullptr || list->kind == Node::Kind::refused) return;
  if (list->kind != Node::Kind::sequence) return complain_kind(*list, "a list of rows", problems);
  for (const auto& item : list->items)
    if (auto row = read_row(item, table, defaults, problems)) parts.rows.push_back(std::move(*row));
}

/// `input:` is a list of its own, or the words same-as-holding.
void read_input(const Node* node, const RowDefaults& defaults, TableParts& parts, Problems& problems) {
  if (node == nullptr) return;
  if (node->kind != Node::Kind::scalar)
    return read_rows(node, modbus::Table::input_registers, defaults, parts, problems);
  parts.input_same_as_holding = node->text == "same-as-holding";
  if (!parts.input_same_as_holding) complain_kind(*node, "a list of rows or 'same-as-holding'", problems);
}

TableParts read_parts(const Node& root, Problems& problems) {
  Fields fields(root, kTableExample, problems);
  TableParts parts;
  read_text(fields.required("register_table", "the title of the table"), parts.title, problems);
  const auto defaults = read_defaults(fields, problems);
  static constexpr Choice<registers::Gaps> kGaps[] = {{"exception", registers::Gaps::exception},
                                                      {"zero", registers::Gaps::zero}};
  read_word(fields.optional("gaps"), kGaps, parts.gaps, problems);
  read_rows(fields.optional("coils"), modbus::Table::coils, defaults, parts, problems);
  read_rows(fields.optional("discrete"), modbus::Table::discrete_inputs, defaults, parts, problems);
  read_rows(fields.optional("holding"), modbus::Table::holding_registers, defaults, parts, problems);
  read_input(fields.optional("input"), defaults, parts, problems);
  fields.optional("format");  // read_kind has looked at it
  fields.done();
  if (parts.rows.empty() && problems.empty())
    complain(problems, root.place, "holds no rows, expected some under coils, discrete, holding or input");
  return parts;
}

}  // namespace

Result<std::shared_ptr<const RegisterTable>, Problems> load_register_table(const std::string& path) {
  Problems problems;
  const auto root = read_kind(path, FileKind::register_table, problems);
  if (!root) return Failure{std::move(problems)};
  auto table = registers::make_register_table(read_parts(*root, problems));
  if (!table) {
    for (const auto& problem : table.error()) complain(problems, problem.place, problem.message);
  }
  if (problems.empty()) return std::move(table).value();
  sort_by_place(problems);
  return Failure{std::move(problems)};
}

std::shared_ptr<const RegisterTable> TableShelf::take(const std::string& path, Problems& problems) {
  const auto known = tables_.find(path);
  if (known != tables_.end()) return known->second;
  auto loaded = load_register_table(path);
  if (!loaded) problems.insert(problems.end(), loaded.error().begin(), loaded.error().end());
  return tables_[path] = loaded ? std::move(loaded).value() : nullptr;
}

std::vector<std::string> TableShelf::paths() const {
  std::vector<std::string> paths;
  for (const auto& [path, table] : tables_) paths.push_back(path);
  return paths;
}

}  // namespace emberline::io
