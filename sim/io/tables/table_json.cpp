#include <array>
#include <cstdio>

#include "sim/io/tables/table_blocks.hpp"
#include "sim/io/tables/table_formats.hpp"
#include "sim/io/tables/table_notes.hpp"
#include "sim/io/tables/table_words.hpp"

namespace emberline::io {
namespace {

using registers::Row;
using registers::Type;

/// A JSON string (RFC 8259, section 7).
std::string in_quotes(std::string_view text) {
  std::string json = "\"";
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x20U) {
      std::array<char, 8> escape{};
      (void)std::snprintf(escape.data(), escape.size(), "\\u%04x", static_cast<unsigned>(byte));
      json += escape.data();
      continue;
    }
    if (c == '"' || c == '\\') json += '\\';
    json += c;
  }
  return json + "\"";
}

std::string string_or_null(std::string_view text) { return text.empty() ? "null" : in_quotes(text); }
std::string number_or_null(std::string_view number) { return number.empty() ? "null" : std::string(number); }
std::string flag(bool on) { return on ? "true" : "false"; }

/// An object being written, one key after the other.
class JsonObject {
 public:
  JsonObject& with(std::string_view key, std::string_view json) {
    text_ += (text_.empty() ? "" : ", ") + in_quotes(key) + ": " + std::string(json);
    return *this;
  }
  [[nodiscard]] std::string text() const { return "{" + text_ + "}"; }

 private:
  std::string text_;
};

/// One entry a line.
std::string lines_of(const std::vector<std::string>& entries, std::string_view indent) {
  if (entries.empty()) return "[]";
  std::string text = "[";
  for (std::size_t i = 0; i < entries.size(); ++i)
    text += (i == 0 ? "\n" : ",\n") + std::string(indent) + "  " + entries[i];
  return text + "\n" + std::string(indent) + "]";
}

std::string words_json(const std::vector<CarriedWord>& words) {
  JsonObject object;
  for (const auto& [word, number] : words) object.with(word, std::to_string(number));
  return object.text();
}

std::string fixed_json(const Row& row) {
  if (row.fixed) return format_number(*row.fixed);
  const bool is_fixed_text = row.layout.type == Type::text && !row.text;
  return is_fixed_text ? in_quotes(row.fixed_text) : "null";
}

void add_layout(const Row& row, JsonObject& object) {
  const auto& layout = row.layout;
  const bool in_registers = !modbus::carries_bits(row.table);
  const bool counts = layout.type != Type::bit && layout.type != Type::text;
  const auto dimension = dimension_of(row);
  object.with("type", in_quotes(to_word(layout.type)))
      .with("registers", std::to_string(register_count(layout)))
      .with("scale", counts ? in_natural_unit(layout.scale, dimension) : "null")
      .with("unit", counts ? in_quotes(natural_unit(dimension)) : "null")
      .with("word_order", in_quotes(word_of(layout.word_order)))
      .with("byte_order", in_quotes(word_of(layout.byte_order)))
      .with("coding", in_quotes(to_word(layout.coding)))
      .with("bit", in_registers && layout.type == Type::bit ? std::to_string(row.bit_position) : "null")
      .with("mask", layout.type == Type::bits ? std::to_string(layout.mask) : "null")
      .with("broken", layout.broken ? format_number(*layout.broken) : "null");
}

std::string row_json(const Row& row) {
  const auto dimension = dimension_of(row);
  JsonObject object;
  object.with("table", in_quotes(word_of(row.table)))
      .with("address", std::to_string(row.address))
      .with("reference", in_quotes(long_reference(row)))
      .with("name", in_quotes(name_of(row)));
  add_layout(row, object);
  object.with("access", in_quotes(word_of(row.access)))
      .with("lowest", row.range ? in_natural_unit(row.range->first, dimension) : "null")
      .with("highest", row.range ? in_natural_unit(row.range->second, dimension) : "null")
      .with("out_of_range", in_quotes(word_of(row.out_of_range)))
      .with("write_mask", row.write_mask ? std::to_string(*row.write_mask) : "null")
      .with("values", words_json(carried_values(row)))
      .with("flags", words_json(carried_flags(row)))
      .with("flag", string_or_null(flag_word(row)))
      .with("kept", flag(row.kept))
      .with("split_refused", flag(row.split_refused))
      .with("fixed", fixed_json(row))
      .with("meaning", in_quotes(meaning_of(row)));
  return object.text();
}

std::string blocks_json(const registers::RegisterTable& table, int largest_block, std::string_view indent) {
  std::vector<std::string> entries;
  for (const auto& [kind, range] : block_reads(table, largest_block)) {
    JsonObject object;
    object.with("table", in_quotes(word_of(kind)))
        .with("address", std::to_string(range.first))
        .with("count", std::to_string(range.count));
    entries.push_back(object.text());
  }
  return lines_of(entries, indent);
}

std::string user_json(const TableUser& user, const registers::RegisterTable& table) {
  std::string lines;
  for (const auto& line : user.lines) lines += (lines.empty() ? "" : ", ") + in_quotes(line);
  JsonObject object;
  object.with("name", in_quotes(user.name))
      .with("id", std::to_string(user.id))
      .with("lines", "[" + lines + "]")
      .with("largest_block", number_or_null(user.largest_block > 0 ? std::to_string(user.largest_block) : ""))
      .with("blocks", blocks_json(table, user.largest_block, "          "));
  return object.text();
}

std::string table_json(const ListedTable& listed) {
  const auto& table = *listed.table;
  std::vector<std::string> users;
  for (const auto& user : listed.users) users.push_back(user_json(user, table));
  std::vector<std::string> rows;
  rows.reserve(table.rows().size());
  for (const auto& row : table.rows()) rows.push_back(row_json(row));
  return "    {\"title\": " + in_quotes(table.title()) +
         ",\n      \"gaps\": " + in_quotes(table.gaps() == registers::Gaps::zero ? "zero" : "exception") +
         ",\n      \"units\": " + lines_of(users, "      ") +
         ",\n      \"blocks\": " + blocks_json(table, 0, "      ") +
         ",\n      \"rows\": " + lines_of(rows, "      ") + "}";
}

}  // namespace

std::string registers_json(const RegisterList& list) {
  std::string text = "{\"format\": \"emberline-register-list-1\",\n  \"title\": " + in_quotes(list.title) +
                     ",\n  \"program\": " + in_quotes(list.program) + ",\n  \"tables\": [\n";
  for (std::size_t i = 0; i < list.tables.size(); ++i)
    text += (i == 0 ? "" : ",\n") + table_json(list.tables[i]);
  return text + "\n  ]}\n";
}

}  // namespace emberline::io
