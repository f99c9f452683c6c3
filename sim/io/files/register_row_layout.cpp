// How the value of a row stands in its registers.
#include <charconv>
#include <cmath>

#include "sim/io/files/register_row_parts.hpp"
#include "sim/io/files/values.hpp"

namespace emberline::io {

using registers::Row;
using registers::Type;

namespace {

constexpr int kLastBit = 15;
constexpr int kAllBits = 0xFFFF;
constexpr int kTextRegisters = 122;

/// `mask` and `write_mask`.
bool read_mask(const Node* node, std::uint16_t& into, Problems& problems) {
  if (node == nullptr) return false;
  int mask = 0;
  if (!read_whole(node, {1, kAllBits}, mask, problems)) return false;
  into = static_cast<std::uint16_t>(mask);
  return true;
}

void read_bit_position(Fields& fields, Row& row, Problems& problems) {
  const bool is_bit = row.layout.type == Type::bit;
  if (is_bit && !of_bits(row.table)) {
    read_whole(fields.optional("bit"), {0, kLastBit}, row.bit_position, problems);
  } else {
    fields.refuse("bit", is_bit ? "a coil or discrete input is one bit by itself"
                                : "only a row that is carried 'as: bit' has a bit position");
  }
}

/// A whole number, decimal or hexadecimal with 0x, with a minus if need be.
std::optional<double> whole_number(std::string_view text) {
  const bool negative = text.starts_with('-');
  if (negative) text.remove_prefix(1);
  const bool hex = text.starts_with("0x") || text.starts_with("0X");
  if (hex) text.remove_prefix(2);
  std::uint64_t number = 0;
  const auto* const end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, number, hex ? 16 : 10);
  if (error != std::errc{} || stop != end) return std::nullopt;
  const auto value = static_cast<double>(number);
  return negative && number != 0 ? -value : value;
}

}  // namespace

bool of_bits(modbus::Table table) {
  return table == modbus::Table::coils || table == modbus::Table::discrete_inputs;
}

void read_word_order(const Node* node, registers::WordOrder& into, Problems& problems) {
  static constexpr Choice<registers::WordOrder> kChoices[] = {
      {"high-first", registers::WordOrder::high_first}, {"low-first", registers::WordOrder::low_first}};
  read_word(node, kChoices, into, problems);
}

void read_byte_order(const Node* node, registers::ByteOrder& into, Problems& problems) {
  static constexpr Choice<registers::ByteOrder> kChoices[] = {
      {"high-first", registers::ByteOrder::high_first}, {"low-first", registers::ByteOrder::low_first}};
  read_word(node, kChoices, into, problems);
}

void read_broken(const Node* node, Dimension dimension, registers::Layout& layout, Problems& problems) {
  std::string text;
  if (node == nullptr) return;
  if (layout.type == Type::bit)
    return complain(problems, node->header, "broken: a bit has no number that says that there is no value");
  if (!read_text(node, text, problems)) return;
  double count = 0.0;
  if (const auto plain = parse_quantity(text, Dimension::number)) {
    count = *plain;
  } else if (const auto value = parse_quantity(text, dimension); value && dimension != Dimension::number) {
    count = std::round(*value / layout.scale);
  } else {
    return complain_kind(*node, "the number that is carried, such as 32767, or a value with its unit",
                         problems);
  }
  const bool fits = count >= registers::lowest(layout) && count <= registers::highest(layout);
  if (!fits || (layout.type != Type::f32 && count != std::round(count)))
    return complain_kind(*node, "a number that " + std::string(to_word(layout.type)) + " can carry",
                         problems);
  layout.broken = count;
}

bool read_type(const Node* node, bool any, Type& into, Problems& problems) {
  static constexpr Choice<Type> kAll[] = {{"u16", Type::u16}, {"s16", Type::s16},   {"u32", Type::u32},
                                          {"s32", Type::s32}, {"u64", Type::u64},   {"f32", Type::f32},
                                          {"bit", Type::bit}, {"bits", Type::bits}, {"text", Type::text}};
  static constexpr Choice<Type> kNumbers[] = {{"u16", Type::u16}, {"s16", Type::s16}, {"u32", Type::u32},
                                              {"s32", Type::s32}, {"u64", Type::u64}, {"f32", Type::f32}};
  return any ? read_word(node, kAll, into, problems) : read_word(node, kNumbers, into, problems);
}

bool read_type_of_row(Fields& fields, Row& row, Problems& problems) {
  row.layout.type = of_bits(row.table) ? Type::bit : Type::u16;
  if (fields.node().find("as") == nullptr) {
    (void)fields.optional("as");
    return true;
  }
  return read_type(fields.optional("as"), true, row.layout.type, problems);
}

void read_place_in_registers(Fields& fields, const RowDefaults& defaults, Row& row, Problems& problems) {
  auto& layout = row.layout;
  const bool is_text = layout.type == Type::text;
  read_bit_position(fields, row, problems);
  if (layout.type == Type::bits) {
    read_mask(fields.required("mask", "the bits of the register that carry the value, such as 0x00F0"),
              layout.mask, problems);
  } else {
    fields.refuse("mask", "only a row that is carried 'as: bits' has a mask");
  }
  if (is_text) {
    read_whole(fields.required("registers", "how many of them the text fills"), {1, kTextRegisters},
               layout.text_registers, problems);
    fields.refuse("coding", "text has no coding of numbers");
    fields.refuse("word_order", "text is read in the order of its registers");
  } else {
    fields.refuse("registers", "only a row that is carried 'as: text' says how many it fills");
    using registers::Coding;
    static constexpr Choice<Coding> kCodings[] = {
        {"binary", Coding::binary}, {"sign-magnitude", Coding::sign_magnitude}, {"bcd", Coding::bcd}};
    read_word(fields.optional("coding"), kCodings, layout.coding, problems);
    layout.word_order = defaults.word_order;
    read_word_order(fields.optional("word_order"), layout.word_order, problems);
  }
  layout.byte_order = defaults.byte_order;
  read_byte_order(fields.optional("byte_order"), layout.byte_order, problems);
  std::uint16_t write_mask = 0;
  if (read_mask(fields.optional("write_mask"), write_mask, problems)) row.write_mask = write_mask;
  static constexpr Choice<bool> kSplit[] = {{"refuse", true}, {"allow", false}};
  read_word(fields.optional("split"), kSplit, row.split_refused, problems);
}

void read_fixed(const Node& node, Row& row, Problems& problems) {
  if (row.layout.type == Type::text) {
    read_text(&node, row.fixed_text, problems);
    return;
  }
  std::string text;
  if (!read_text(&node, text, problems)) return;
  auto number = whole_number(text);
  if (!number && row.layout.type == Type::f32) {
    if (const auto any = parse_quantity(text, Dimension::number)) number = *any;
  }
  if (!number)
    return complain_kind(
        node, "the number that " + std::string(to_word(row.layout.type)) + " carries, such as 4711 or 0x1267",
        problems);
  row.fixed = number;
}

}  // namespace emberline::io
