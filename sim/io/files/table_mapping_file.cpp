#include "sim/io/files/table_mapping_file.hpp"

#include <array>
#include <utility>
#include <vector>

#include "sim/io/files/fields.hpp"
#include "sim/io/files/file_kind.hpp"
#include "sim/io/files/register_row.hpp"
#include "sim/io/files/values.hpp"
#include "sim/io/files/words.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kMappingExample = "'table_mapping: My device'";
constexpr int kMostSkippedRows = 1000;

/// In the order of the enumeration.
constexpr std::array<std::string_view, kTableColumns> kColumnWords = {
    "table",        "address", "name",  "point",      "type",    "registers",  "scale",
    "unit",         "access",  "range", "lowest",     "highest", "word_order", "byte_order",
    "coding",       "bit",     "mask",  "write_mask", "values",  "flags",      "flag",
    "out_of_range", "kept",    "split", "broken",     "fixed",   "meaning"};

/// Calls `read` for each entry of a mapping of the user's own words.
template <class Read>
void each_entry(const Node* node, std::string_view example, Problems& problems, Read read) {
  if (node == nullptr || node->kind == Node::Kind::refused) return;
  if (node->kind != Node::Kind::mapping) return complain_kind(*node, example, problems);
  for (const auto& entry : node->entries) {
    if (entry.kind == Node::Kind::null)
      complain(problems, entry.place, entry.label + ": nothing stands here, expected a value");
    else
      read(entry);
  }
}

void read_columns(const Node* node, TableMapping& mapping, Problems& problems) {
  if (node == nullptr || node->kind == Node::Kind::refused) return;
  Fields fields(*node, "{ address: \"Reg. no.\", name: Parameter }", problems);
  for (std::size_t i = 0; i < kTableColumns; ++i) {
    const auto* header = fields.optional(kColumnWords.at(i));
    std::string text;
    if (!read_text(header, text, problems)) continue;
    mapping.columns[static_cast<TableColumn>(i)] = {text, header->place};
  }
  fields.done();
}

std::vector<std::string> known_points() {
  std::vector<std::string> names;
  for (const auto& info : registers::all_points()) names.emplace_back(info.name);
  for (const auto point : registers::all_text_points()) names.emplace_back(to_word(point));
  return names;
}

std::vector<std::string> known_words() {
  std::vector<std::string> names;
  for (const auto& info : registers::all_points())
    for (const auto words : {info.values, info.flags})
      for (const auto& word : words) names.emplace_back(word.first);
  return names;
}

void read_points(const Node* node, TableMapping& mapping, Problems& problems) {
  each_entry(node, "points such as { \"Working setpoint\": setpoint }", problems, [&](const Node& entry) {
    std::string word;
    if (!read_text(&entry, word, problems)) return;
    if (const auto point = mapped_point(word)) {
      mapping.points[loose(entry.label)] = *point;
    } else {
      complain(problems, entry.place, "points: " + unknown("point", word, known_points()));
    }
  });
}

/// Words of the table for words of ours, such as `types: { FLOAT32: f32 }`.
void read_vocabulary(Fields& fields, TableMapping& mapping, Problems& problems) {
  each_entry(fields.optional("types"), "types such as { FLOAT32: f32 }", problems, [&](const Node& entry) {
    auto type = registers::Type::u16;
    if (read_type(&entry, true, type, problems)) mapping.types[loose(entry.label)] = type;
  });
  each_entry(fields.optional("access"), "access such as { \"R/W\": read-write }", problems,
             [&](const Node& entry) {
               auto access = registers::Access::read_only;
               const auto before = problems.size();
               read_access(&entry, access, problems);
               if (problems.size() == before) mapping.access[loose(entry.label)] = access;
             });
  static constexpr Choice<modbus::Table> kTables[] = {{"holding", modbus::Table::holding_registers},
                                                      {"input", modbus::Table::input_registers},
                                                      {"coils", modbus::Table::coils},
                                                      {"discrete", modbus::Table::discrete_inputs}};
  each_entry(fields.optional("tables"), "tables such as { Measured: input }", problems,
             [&](const Node& entry) {
               auto table = modbus::Table::holding_registers;
               if (read_word(&entry, kTables, table, problems)) mapping.tables[loose(entry.label)] = table;
             });
  each_entry(
      fields.optional("words"), "words such as { Standby: stopped }", problems, [&](const Node& entry) {
        if (const auto known = known_words(); const auto index = read_choice(&entry, known, {}, problems))
          mapping.words[loose(entry.label)] = known[*index];
      });
  read_word(fields.optional("table"), kTables, mapping.table, problems);
}

/// Choices that are another thing when nothing is said.
template <class T, std::size_t N>
void read_optional_word(const Node* node, const Choice<T> (&choices)[N], std::optional<T>& into,
                        Problems& problems) {
  T value = choices[0].value;
  if (read_word(node, choices, value, problems)) into = value;
}

void read_habits(Fields& fields, TableMapping& mapping, Problems& problems) {
  using registers::Numbering;
  static constexpr Choice<char> kDelimiters[] = {{"comma", ','}, {"semicolon", ';'}, {"tab", '\t'}};
  read_optional_word(fields.optional("delimiter"), kDelimiters, mapping.delimiter, problems);
  read_whole(fields.optional("skip_rows"), {0, kMostSkippedRows, "rows"}, mapping.skip_rows, problems);
  static constexpr Choice<Numbering> kNumberings[] = {{"zero-based", Numbering::zero_based},
                                                      {"one-based", Numbering::one_based},
                                                      {"reference", Numbering::reference}};
  read_optional_word(fields.optional("numbering"), kNumberings, mapping.numbering, problems);
  static constexpr Choice<AddressHabit> kAddresses[] = {{"as-written", AddressHabit::as_written},
                                                        {"decimal", AddressHabit::decimal},
                                                        {"hexadecimal", AddressHabit::hexadecimal}};
  read_word(fields.optional("addresses"), kAddresses, mapping.addresses, problems);
  read_word_order(fields.optional("word_order"), mapping.word_order, problems);
  read_byte_order(fields.optional("byte_order"), mapping.byte_order, problems);
  static constexpr Choice<ScaleHabit> kScales[] = {
      {"factor", ScaleHabit::factor}, {"divisor", ScaleHabit::divisor}, {"decimals", ScaleHabit::decimals}};
  read_optional_word(fields.optional("scale"), kScales, mapping.scale, problems);
  static constexpr Choice<RangeHabit> kRanges[] = {{"in-units", RangeHabit::in_units},
                                                   {"as-carried", RangeHabit::as_carried}};
  read_word(fields.optional("ranges"), kRanges, mapping.ranges, problems);
  static constexpr Choice<BitHabit> kBits[] = {{"any", BitHabit::any},
                                               {"in-address", BitHabit::in_address},
                                               {"own-rows", BitHabit::own_rows},
                                               {"column", BitHabit::column}};
  read_word(fields.optional("bits"), kBits, mapping.bits, problems);
  static constexpr Choice<bool> kUnplaced[] = {{"leave-out", false}, {"fixed", true}};
  read_word(fields.optional("unplaced"), kUnplaced, mapping.unplaced_fixed, problems);
}

std::optional<int> number_of(std::span<const registers::Word> words, std::string_view name) {
  for (const auto& [word, number] : words)
    if (word == name) return number;
  return std::nullopt;
}

}  // namespace

std::string_view to_word(TableColumn column) { return kColumnWords.at(static_cast<std::size_t>(column)); }

std::string loose(std::string_view word) {
  std::string text;
  for (const char c : word) {
    if ((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || static_cast<unsigned char>(c) >= 0x80U)
      text += c;
    else if (c >= 'A' && c <= 'Z')
      text += static_cast<char>(c - 'A' + 'a');
  }
  return text;
}

std::optional<MappedPoint> mapped_point(std::string_view words) {
  MappedPoint found;
  if (const auto text = registers::find_text_point(words)) {
    found.text = *text;
    return found;
  }
  const auto dot = words.find('.');
  found.point = registers::find_point(words.substr(0, dot));
  if (!found.point) return std::nullopt;
  if (dot == std::string_view::npos) return found;
  found.flag = number_of(registers::point_info(*found.point).flags, words.substr(dot + 1));
  return found.flag ? std::optional(found) : std::nullopt;
}

Result<TableMapping, Problems> load_table_mapping(const std::string& path) {
  Problems problems;
  const auto root = read_kind(path, FileKind::table_mapping, problems);
  if (!root) return Failure{std::move(problems)};
  TableMapping mapping;
  Fields fields(*root, kMappingExample, problems);
  read_text(fields.required("table_mapping", "the name of the mapping"), mapping.name, problems);
  read_text(fields.optional("title"), mapping.title, problems);
  read_habits(fields, mapping, problems);
  read_columns(fields.optional("columns"), mapping, problems);
  read_vocabulary(fields, mapping, problems);
  read_points(fields.optional("points"), mapping, problems);
  fields.optional("format");  // read_kind has looked at it
  fields.done();
  if (problems.empty()) return mapping;
  sort_by_place(problems);
  return Failure{std::move(problems)};
}

}  // namespace emberline::io
