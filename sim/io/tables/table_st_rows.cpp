#include "sim/io/tables/table_st_rows.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <span>

#include "sim/io/tables/table_notes.hpp"
#include "sim/io/tables/table_st_names.hpp"

namespace emberline::io {
namespace {

using registers::ByteOrder;
using registers::Coding;
using registers::Row;
using registers::Type;
using registers::WordOrder;

constexpr int kHexDigitsOfWord = 4;

int width_of(const Row& row) { return register_count(row.layout); }

/// "WORD", "DWORD", "LWORD": what all registers of a row make together.
std::string bits_type(const Row& row) {
  const int width = width_of(row);
  return width == 1 ? "WORD" : width == 2 ? "DWORD" : "LWORD";
}

std::string bits_literal(const Row& row, std::uint64_t value) {
  return bits_type(row) + "#" + st_hex(value, kHexDigitsOfWord * width_of(row));
}

/// The type of the whole number that stands in the registers; not of f32.
std::string count_type(const Row& row) {
  switch (row.layout.type) {
    case Type::s16:
      return "INT";
    case Type::u32:
      return "UDINT";
    case Type::s32:
      return "DINT";
    case Type::u64:
      return "ULINT";
    case Type::bit:
    case Type::bits:
    case Type::u16:
    case Type::f32:
    case Type::text:
      return "UINT";
  }
  return "UINT";
}

std::string in_byte_order(const Row& row, const std::string& word) {
  return row.layout.byte_order == ByteOrder::low_first ? "ROL(" + word + ", 8)" : word;
}

/// The word that counts `place` from the low end, of words that stand as word_0, word_1, ...
std::string word_at(const Row& row, int place) {
  const int index = row.layout.word_order == WordOrder::high_first ? width_of(row) - 1 - place : place;
  return in_byte_order(row, "word_" + std::to_string(index));
}

std::string pair_of(const Row& row, int low_place, StHelpers& helpers) {
  return helpers.use("EMB_DWORD") + "(high := " + word_at(row, low_place + 1) +
         ", low := " + word_at(row, low_place) + ")";
}

/// All registers of a row as one.
std::string raw_of(const Row& row, StHelpers& helpers) {
  if (width_of(row) == 1) return word_at(row, 0);
  if (width_of(row) == 2) return pair_of(row, 0, helpers);
  return helpers.use("EMB_LWORD") + "(high := " + pair_of(row, 2, helpers) +
         ", low := " + pair_of(row, 0, helpers) + ")";
}

std::string sign_literal(const Row& row) {
  return "DWORD#" + st_hex(width_of(row) == 1 ? 0x8000U : 0x80000000U, 2 * kHexDigitsOfWord);
}

/// The same in 32 bits.
std::string wide(const Row& row, const std::string& raw) {
  return width_of(row) == 1 ? "WORD_TO_DWORD(" + raw + ")" : raw;
}

std::string shift_of(const Row& row) { return std::to_string(std::countr_zero(row.layout.mask)); }

/// The whole number in the registers, of count_type().
std::string count_of(const Row& row, StHelpers& helpers) {
  const auto raw = raw_of(row, helpers);
  const auto type = count_type(row);
  if (row.layout.coding == Coding::bcd) {
    if (width_of(row) > 2) return helpers.use("EMB_BCD_64") + "(raw := " + raw + ")";
    auto count = helpers.use("EMB_BCD") + "(raw := " + wide(row, raw) + ")";
    return width_of(row) == 1 ? "UDINT_TO_UINT(" + count + ")" : count;
  }
  if (row.layout.coding == Coding::sign_magnitude) {
    auto count = helpers.use("EMB_SIGN_MAGNITUDE") + "(raw := " + wide(row, raw) +
                 ", sign := " + sign_literal(row) + ")";
    return width_of(row) == 1 ? "DINT_TO_INT(" + count + ")" : count;
  }
  if (row.layout.type == Type::bits)
    return "WORD_TO_UINT(SHR(" + raw + " AND " + bits_literal(row, row.layout.mask) + ", " + shift_of(row) +
           "))";
  return bits_type(row) + "_TO_" + type + "(" + raw + ")";
}

/// The scale in the natural unit, which is what programs calculate in.
std::string scale_literal(const Row& row) {
  const auto text = in_natural_unit(row.layout.scale, dimension_of(row));
  return st_lreal(std::stod(text));
}

std::string value_of(const StRow& st, StHelpers& helpers) {
  const Row& row = *st.row;
  if (st.kind == StKind::switched)
    return "(" + raw_of(row, helpers) + " AND " +
           bits_literal(row, std::uint64_t{1} << static_cast<unsigned>(row.bit_position)) + ") <> WORD#0";
  if (row.layout.type == Type::f32) {
    const auto raw = "(raw := " + raw_of(row, helpers) + ")";
    if (st.kind == StKind::numbered) return helpers.use("EMB_F32_WHOLE") + raw;
    auto number = helpers.use("EMB_F32") + raw;
    return row.layout.scale == natural_factor(dimension_of(row)) ? number
                                                                 : number + " * " + scale_literal(row);
  }
  if (st.kind == StKind::flagged && row.layout.coding == Coding::binary && row.layout.type != Type::bits)
    return raw_of(row, helpers);
  auto count = count_of(row, helpers);
  if (st.kind == StKind::flagged) return count_type(row) + "_TO_" + bits_type(row) + "(" + count + ")";
  if (st.kind != StKind::quantity) return count;
  return count_type(row) + "_TO_LREAL(" + count + ") * " + scale_literal(row);
}

std::string word_inputs(const Row& row) {
  std::string names = "word_0";
  for (int i = 1; i < width_of(row); ++i) names += ", word_" + std::to_string(i);
  return "    " + names + " : WORD;\n";
}

std::string summary_of(const Row& row) {
  std::string unit(natural_unit(dimension_of(row)));
  if (row.fixed) return "a number the table states";
  return meaning_of(row) + (unit.empty() || row.layout.type == Type::bit ? "" : ", in " + unit);
}

std::string comment(const std::string& text) { return "\n(* " + st_comment(text) + ". *)\n"; }

std::string function_of(const std::string& name, const std::string& type, const std::string& inputs,
                        const std::string& body) {
  return "FUNCTION " + name + " : " + type + "\n  VAR_INPUT\n" + inputs + "  END_VAR\n" + body +
         "END_FUNCTION\n";
}

/// True where the row's own range holds what is written: words have numbers of their own.
bool is_held(const StRow& st) {
  return st.row->range && (st.kind == StKind::quantity || st.kind == StKind::whole);
}

/// Counts that go out, and the one for a value that is no number.
struct Ends {
  double lowest = 0.0;
  double highest = 0.0;
  double none = 0.0;
};

/// No number has to become the least that may be written, never what a unit sends for no value: that is the
/// highest count where the table says nothing, and a unit that clamps would take it for full output.
Ends ends_of(const StRow& st) {
  const auto& layout = st.row->layout;
  if (!is_held(st))
    return {lowest(layout), highest(layout), std::clamp(0.0, lowest(layout), highest(layout))};
  auto plain = layout;
  plain.scale = 1.0;
  const auto count = [&](double value) {
    const auto words = registers::encode(value, layout);
    return registers::decode(std::span(words.words).first(static_cast<std::size_t>(words.used)), plain);
  };
  const double low = count(st.row->range->first);
  const double high = count(st.row->range->second);
  return {std::min(low, high), std::max(low, high), low};  // a scale may be negative
}

/// `value` as the count to be carried: LREAL, whole, within the row's range and what the type carries.
std::string counted(const StRow& st, StHelpers& helpers) {
  const Row& row = *st.row;
  const bool is_quantity = st.kind == StKind::quantity;
  const auto value = is_quantity ? std::string("value") : st.type + "_TO_LREAL(value)";
  const auto scale = is_quantity ? scale_literal(row) : st_lreal(1.0);
  const auto ends = ends_of(st);
  return helpers.use(width_of(row) > 2 ? "EMB_COUNT_64" : "EMB_COUNT") + "(value := " + value +
         ", scale := " + scale + ",\n    lowest := " + st_lreal(ends.lowest) +
         ", highest := " + st_lreal(ends.highest) + ", none := " + st_lreal(ends.none) + ")";
}

/// `count`, an LREAL, as all registers of the row in one; 16 bits stand in a DWORD.
std::string coded(const Row& row, StHelpers& helpers) {
  const bool is_long = width_of(row) > 2;
  if (row.layout.coding == Coding::bcd)
    return helpers.use(is_long ? "EMB_TO_BCD_64" : "EMB_TO_BCD") + "(count := count)";
  if (row.layout.coding == Coding::sign_magnitude)
    return helpers.use("EMB_TO_SIGN_MAGNITUDE") + "(count := count, sign := " + sign_literal(row) + ")";
  return is_long ? "ULINT_TO_LWORD(LREAL_TO_ULINT(count))" : helpers.use("EMB_RAW") + "(count := count)";
}

/// The registers as one number, lowest word last.
std::uint64_t joined(const Row& row, const registers::Words& words) {
  std::uint64_t raw = 0;
  for (int place = words.used - 1; place >= 0; --place) {
    const int index = row.layout.word_order == WordOrder::high_first ? words.used - 1 - place : place;
    unsigned word = words.words[static_cast<std::size_t>(index)];
    if (row.layout.byte_order == ByteOrder::low_first) word = ((word >> 8U) | (word << 8U)) & 0xFFFFU;
    raw = (raw << 16U) | word;
  }
  return raw;
}

std::uint64_t raw_of_none(const Row& row) {
  return joined(row, registers::encode(std::numeric_limits<double>::quiet_NaN(), row.layout));
}

/// A switched bit, or a number in some bits: the rest of the register stays.
std::string set_in_register(const StRow& st, StHelpers& helpers) {
  const Row& row = *st.row;
  const bool is_bit = st.kind == StKind::switched;
  const auto mask = is_bit ? std::uint64_t{1} << static_cast<unsigned>(row.bit_position) : row.layout.mask;
  const auto rest = in_byte_order(row, "word_0") + " AND (NOT " + bits_literal(row, mask) + ")";
  std::string body;
  if (is_bit) {
    body = "  raw := " + rest + ";\n  IF value THEN\n    raw := raw OR " + bits_literal(row, mask) +
           ";\n  END_IF;\n";
  } else {
    body = "  count := " + counted(st, helpers) + ";\n  raw := (" + rest + ") OR SHL(DWORD_TO_WORD(" +
           coded(row, helpers) + "), " + shift_of(row) + ");\n";
  }
  return std::string("  VAR\n    raw : WORD;\n") + (is_bit ? "" : "    count : LREAL;\n") + "  END_VAR\n" +
         body + "  " + st.set + " := " + in_byte_order(row, "raw") + ";\n";
}

/// An end of the range in the natural unit.
std::string end_literal(const Row& row, double end) {
  return st_lreal(std::stod(in_natural_unit(end, dimension_of(row))));
}

std::string set_float(const StRow& st, StHelpers& helpers) {
  const Row& row = *st.row;
  if (st.kind != StKind::quantity)
    return "  raw := " + helpers.use("EMB_TO_F32") + "(value := DINT_TO_LREAL(value));\n";
  const auto low = is_held(st) ? end_literal(row, row.range->first) : st_lreal(0.0);
  std::string text = "  held := value;\n  IF value <> value THEN\n    held := " + low + ";\n";
  if (is_held(st)) {
    const auto high = end_literal(row, row.range->second);
    text += "  ELSIF value < " + low + " THEN\n    held := " + low + ";\n  ELSIF value > " + high +
            " THEN\n    held := " + high + ";\n";
  }
  const bool plain_scale = row.layout.scale == natural_factor(dimension_of(row));
  return text + "  END_IF;\n  raw := " + helpers.use("EMB_TO_F32") + "(value := held" +
         (plain_scale ? "" : " / " + scale_literal(row)) + ");\n";
}

std::string set_body(const StRow& st, StHelpers& helpers) {
  const Row& row = *st.row;
  if (st.kind == StKind::switched || row.layout.type == Type::bits) return set_in_register(st, helpers);
  const bool is_float = row.layout.type == Type::f32;
  const auto wide_type = width_of(row) > 2 ? std::string("LWORD") : std::string("DWORD");
  std::string body = "  VAR\n    raw : " + wide_type + ";\n";
  if (!is_float) body += "    count : LREAL;\n";
  if (is_float && st.kind == StKind::quantity) body += "    held : LREAL;\n";
  body += "  END_VAR\n";
  if (is_float)
    body += set_float(st, helpers);
  else
    body += "  count := " + counted(st, helpers) + ";\n  raw := " + coded(row, helpers) + ";\n";
  std::string word = "raw";
  if (width_of(row) > 1) {
    const bool high_first = row.layout.word_order == WordOrder::high_first;
    const auto place = high_first ? "(" + std::to_string(width_of(row) - 1) + " - index)" : "index";
    word = "SHR(raw, 16 * " + place + ")";
  }
  return body + "  " + st.set + " := " + in_byte_order(row, wide_type + "_TO_WORD(" + word + ")") + ";\n";
}

/// "word_0 := word_0, ...".
std::string words_passed_on(const Row& row) {
  std::string text = "word_0 := word_0";
  for (int i = 1; i < width_of(row); ++i) {
    const auto name = "word_" + std::to_string(i);
    text += ", " + name + " := " + name;
  }
  return text;
}

}  // namespace

StKind st_kind_of(const Row& row) {
  if (row.layout.type == Type::text) return StKind::text;
  if (row.layout.type == Type::bit) return StKind::switched;
  if (carries_point(row) && !point_info(row.point).values.empty()) return StKind::numbered;
  if (carries_point(row) && !point_info(row.point).flags.empty()) return StKind::flagged;
  const bool has_unit = !natural_unit(dimension_of(row)).empty();
  if (row.layout.type == Type::f32 || has_unit || row.layout.scale != 1.0) return StKind::quantity;
  return StKind::whole;
}

std::string st_type_of(const Row& row) {
  switch (st_kind_of(row)) {
    case StKind::text:
      return "STRING[" + std::to_string(2 * row.layout.text_registers) + "]";
    case StKind::switched:
      return "BOOL";
    case StKind::quantity:
      return "LREAL";
    case StKind::flagged:
      return bits_type(row);
    case StKind::numbered:
    case StKind::whole:
      return row.layout.type == Type::f32 ? "DINT" : count_type(row);
  }
  return "LREAL";
}

bool st_has_get(const Row& row) { return !modbus::carries_bits(row.table) && row.layout.type != Type::text; }

bool st_has_set(const Row& row) { return st_has_get(row) && row.access != registers::Access::read_only; }

bool st_has_valid(const Row& row) {
  return st_has_get(row) && row.layout.type != Type::bit &&
         (row.layout.type == Type::f32 || row.layout.coding == Coding::bcd || row.layout.broken ||
          st_kind_of(row) == StKind::numbered);
}

std::string st_get_function(const StRow& st, StHelpers& helpers) {
  return comment("From registers: " + summary_of(*st.row)) +
         function_of(st.get, st.type, word_inputs(*st.row),
                     "  " + st.get + " := " + value_of(st, helpers) + ";\n");
}

std::string st_set_function(const StRow& st, StHelpers& helpers) {
  const Row& row = *st.row;
  std::string inputs = "    value : " + st.type + ";\n";
  std::string what = "To registers: " + summary_of(row);
  if (st.kind == StKind::switched || row.layout.type == Type::bits) {
    inputs += "    word_0 : WORD;\n";
    what += "; word_0: the register as it is, whose other bits stay";
  } else if (width_of(row) > 1) {
    inputs += "    index : INT;\n";
    what += "; index: which register, 0 at the lowest address to " + std::to_string(width_of(row) - 1);
  }
  if (is_held(st))
    what += "; held within " + in_natural_unit(row.range->first, dimension_of(row)) + " to " +
            in_natural_unit(row.range->second, dimension_of(row));
  return comment(what) + function_of(st.set, "WORD", inputs, set_body(st, helpers));
}

std::string st_valid_function(const StRow& st, StHelpers& helpers) {
  const Row& row = *st.row;
  std::vector<std::string> conditions;
  const auto raw = raw_of(row, helpers);
  if (row.layout.type == Type::f32) conditions.push_back(helpers.use("EMB_F32_OK") + "(raw := " + raw + ")");
  if (row.layout.coding == Coding::bcd && width_of(row) > 2)
    conditions.push_back(helpers.use("EMB_BCD_64_OK") + "(raw := " + raw + ")");
  else if (row.layout.coding == Coding::bcd)
    conditions.push_back(helpers.use("EMB_BCD_OK") + "(raw := " + wide(row, raw) + ")");
  if (row.layout.broken) {
    // The other bits of the register are others' business.
    const auto own =
        row.layout.type == Type::bits ? "(" + raw + " AND " + bits_literal(row, row.layout.mask) + ")" : raw;
    conditions.push_back("(" + own + " <> " + bits_literal(row, raw_of_none(row)) + ")");
  }
  if (st.kind == StKind::numbered) {
    // Of a float the number itself: a part of a whole number has no word.
    const bool is_float = row.layout.type == Type::f32;
    const auto value = is_float ? helpers.use("EMB_F32") + "(raw := " + raw + ")"
                                : st.get + "(" + words_passed_on(row) + ")";
    std::string any;
    for (const auto& [word, number] : carried_values(row)) {
      const auto literal = is_float ? st_lreal(number) : st.type + "#" + std::to_string(number);
      any += (any.empty() ? "(" : "\n      OR (") + value + " = " + literal + ")";
    }
    conditions.push_back("(" + any + ")");
  }
  std::string all;
  for (const auto& condition : conditions) all += (all.empty() ? "" : "\n    AND ") + condition;
  return comment("TRUE if the registers hold a value of " + std::string(name_of(row))) +
         function_of(st.valid, "BOOL", word_inputs(row), "  " + st.valid + " := " + all + ";\n");
}

std::string st_words_from_block(const Row& row) {
  std::string text;
  for (int i = 0; i < width_of(row); ++i) {
    text += (i == 0 ? "word_" : ", word_") + std::to_string(i) + " := words[UDINT#" +
            st_hex(row.address + static_cast<unsigned>(i), kHexDigitsOfWord) + " - first]";
  }
  return text;
}

}  // namespace emberline::io
