#include <array>

#include "sim/base/csv_field.hpp"
#include "sim/io/tables/table_formats.hpp"
#include "sim/io/tables/table_notes.hpp"
#include "sim/io/tables/table_words.hpp"

namespace emberline::io {
namespace {

using registers::Row;
using registers::Type;

constexpr std::string_view kLineEnd = "\r\n";  // RFC 4180, 2.1

constexpr std::array<std::string_view, 26> kColumns{
    "table",  "address", "reference",    "name",       "type",   "registers", "scale", "unit",       "access",
    "lowest", "highest", "word_order",   "byte_order", "coding", "bit",       "mask",  "write_mask", "values",
    "flags",  "flag",    "out_of_range", "kept",       "split",  "broken",    "fixed", "meaning"};

/// "running=10 tripped=7": what the row lists.
std::string numbered(const std::map<int, int>& numbers, std::span<const registers::Word> words) {
  std::string text;
  for (const auto& [ours, carried] : numbers) {
    for (const auto& [word, number] : words)
      if (number == ours)
        text += (text.empty() ? "" : " ") + std::string(word) + "=" + std::to_string(carried);
  }
  return text;
}

/// The columns of how its registers carry it.
struct LayoutFields {
  std::string scale, unit, word_order, byte_order, coding, bit, mask, write_mask, broken;
};

LayoutFields layout_fields(const Row& row) {
  LayoutFields fields;
  const auto& layout = row.layout;
  const bool in_registers = !modbus::carries_bits(row.table);
  const bool counts = layout.type != Type::bit && layout.type != Type::text;
  if (counts) {
    fields.scale = in_natural_unit(layout.scale, dimension_of(row));
    fields.unit = natural_unit(dimension_of(row));
    fields.coding = to_word(layout.coding);
  }
  if (counts && register_count(layout) > 1) fields.word_order = word_of(layout.word_order);
  if (in_registers) fields.byte_order = word_of(layout.byte_order);
  if (in_registers && layout.type == Type::bit) fields.bit = std::to_string(row.bit_position);
  if (layout.type == Type::bits) fields.mask = mask_words(layout.mask);
  if (row.write_mask) fields.write_mask = mask_words(*row.write_mask);
  if (layout.broken) fields.broken = format_number(*layout.broken);
  return fields;
}

/// The columns of what may be written.
struct WriteFields {
  std::string lowest, highest, out_of_range, kept;
};

WriteFields write_fields(const Row& row) {
  WriteFields fields;
  if (row.range) {
    fields.lowest = in_natural_unit(row.range->first, dimension_of(row));
    fields.highest = in_natural_unit(row.range->second, dimension_of(row));
  }
  if (row.access != registers::Access::read_only) fields.out_of_range = word_of(row.out_of_range);
  if (row.kept) fields.kept = "yes";
  return fields;
}

std::string fixed_field(const Row& row) {
  if (row.fixed) return format_number(*row.fixed);
  return row.text ? std::string() : row.fixed_text;
}

std::string line_of(const Row& row) {
  const auto layout = layout_fields(row);
  const auto write = write_fields(row);
  std::string values;
  std::string flags;
  if (carries_point(row)) {
    values = numbered(row.values, point_info(row.point).values);
    flags = numbered(row.flags, point_info(row.point).flags);
  }
  const std::array<std::string, kColumns.size()> fields{std::string(word_of(row.table)),
                                                        registers::hexadecimal(row.address),
                                                        long_reference(row),
                                                        std::string(name_of(row)),
                                                        std::string(to_word(row.layout.type)),
                                                        std::to_string(register_count(row.layout)),
                                                        layout.scale,
                                                        layout.unit,
                                                        std::string(word_of(row.access)),
                                                        write.lowest,
                                                        write.highest,
                                                        layout.word_order,
                                                        layout.byte_order,
                                                        layout.coding,
                                                        layout.bit,
                                                        layout.mask,
                                                        layout.write_mask,
                                                        values,
                                                        flags,
                                                        std::string(flag_word(row)),
                                                        write.out_of_range,
                                                        write.kept,
                                                        row.split_refused ? "refuse" : "",
                                                        layout.broken,
                                                        fixed_field(row),
                                                        meaning_of(row)};
  return csv_fields(fields).append(kLineEnd);
}

}  // namespace

std::string registers_csv(const registers::RegisterTable& table) {
  std::string text;
  for (const auto column : kColumns) text += (text.empty() ? "" : ",") + std::string(column);
  text += kLineEnd;
  for (const auto& row : table.rows()) text += line_of(row);
  return text;
}

}  // namespace emberline::io
