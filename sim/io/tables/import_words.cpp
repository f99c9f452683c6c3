#include "sim/io/tables/import_words.hpp"

#include <algorithm>
#include <cstdlib>
#include <vector>

#include "sim/base/listed.hpp"
#include "sim/io/tables/table_words.hpp"

namespace emberline::io {
namespace {

using registers::Access;
using registers::ByteOrder;
using registers::Coding;
using registers::Type;
using registers::WordOrder;

struct KnownType {
  std::string_view word;
  Type type;
  bool any_width = false;
  Coding coding = Coding::binary;
};

constexpr KnownType kTypes[] = {
    {"u16", Type::u16},
    {"uint16", Type::u16},
    {"uint16t", Type::u16},
    {"unsigned16", Type::u16},
    {"unsigned16bit", Type::u16},
    {"16bitunsigned", Type::u16},
    {"16bitunsignedinteger", Type::u16},
    {"unsigned16bitinteger", Type::u16},
    {"unsignedint16", Type::u16},
    {"ushort", Type::u16},
    {"unsignedshort", Type::u16},
    {"word", Type::u16},
    {"16bit", Type::u16},
    {"enum", Type::u16},
    {"enum16", Type::u16},
    {"enumeration", Type::u16},
    {"bitfield", Type::u16},
    {"bitfield16", Type::u16},
    {"bitmap", Type::u16},
    {"bitmask", Type::u16},
    {"flags", Type::u16},
    {"uint", Type::u16, true},
    {"unsigned", Type::u16, true},
    {"unsignedint", Type::u16, true},
    {"unsignedinteger", Type::u16, true},
    {"s16", Type::s16},
    {"i16", Type::s16},
    {"int16", Type::s16},
    {"int16t", Type::s16},
    {"sint16", Type::s16},
    {"signed16", Type::s16},
    {"signed16bit", Type::s16},
    {"16bitsigned", Type::s16},
    {"16bitsignedinteger", Type::s16},
    {"signed16bitinteger", Type::s16},
    {"signedint16", Type::s16},
    {"short", Type::s16},
    {"int", Type::s16, true},
    {"integer", Type::s16, true},
    {"signed", Type::s16, true},
    {"signedint", Type::s16, true},
    {"signedinteger", Type::s16, true},
    {"u32", Type::u32},
    {"uint32", Type::u32},
    {"uint32t", Type::u32},
    {"unsigned32", Type::u32},
    {"unsigned32bit", Type::u32},
    {"32bitunsigned", Type::u32},
    {"32bitunsignedinteger", Type::u32},
    {"unsigned32bitinteger", Type::u32},
    {"unsignedint32", Type::u32},
    {"ulong", Type::u32},
    {"unsignedlong", Type::u32},
    {"udint", Type::u32},
    {"dword", Type::u32},
    {"bitfield32", Type::u32},
    {"enum32", Type::u32},
    {"s32", Type::s32},
    {"i32", Type::s32},
    {"int32", Type::s32},
    {"int32t", Type::s32},
    {"sint32", Type::s32},
    {"signed32", Type::s32},
    {"signed32bit", Type::s32},
    {"32bitsigned", Type::s32},
    {"32bitsignedinteger", Type::s32},
    {"signed32bitinteger", Type::s32},
    {"long", Type::s32},
    {"dint", Type::s32},
    {"u64", Type::u64},
    {"uint64", Type::u64},
    {"uint64t", Type::u64},
    {"unsigned64", Type::u64},
    {"64bitunsigned", Type::u64},
    {"ulint", Type::u64},
    {"lword", Type::u64},
    {"qword", Type::u64},
    {"f32", Type::f32},
    {"float", Type::f32},
    {"float32", Type::f32},
    {"32bitfloat", Type::f32},
    {"real", Type::f32},
    {"real32", Type::f32},
    {"single", Type::f32},
    {"ieee754", Type::f32},
    {"ieee754float", Type::f32},
    {"floatieee754", Type::f32},
    {"float32ieee754", Type::f32},
    {"bit", Type::bit},
    {"bool", Type::bit},
    {"boolean", Type::bit},
    {"coil", Type::bit},
    {"logical", Type::bit},
    {"1bit", Type::bit},
    {"discrete", Type::bit},
    {"bits", Type::bits},
    {"text", Type::text},
    {"string", Type::text},
    {"ascii", Type::text},
    {"char", Type::text},
    {"characters", Type::text},
    {"utf8", Type::text},
    {"bcd", Type::u16, true, Coding::bcd},
    {"bcd16", Type::u16, false, Coding::bcd},
    {"bcd4", Type::u16, false, Coding::bcd},
    {"bcd32", Type::u32, false, Coding::bcd},
    {"bcd8", Type::u32, false, Coding::bcd},
};

constexpr std::string_view kNotCarried[] = {
    "s64",     "i64",   "int64",  "int64t", "sint64", "signed64", "lint", "f64",   "double",
    "float64", "lreal", "real64", "u8",     "uint8",  "s8",       "int8", "byte",  "usint",
    "sint",    "u24",   "uint24", "f16",    "half",   "float16",  "u48",  "uint48"};

/// Words that say which end of a value comes first, as they stand in front of or behind a type's word.
struct TypeOrder {
  std::string_view word;
  WordOrder words;
  std::optional<ByteOrder> bytes{};
};

constexpr TypeOrder kTypeOrders[] = {
    {"lowwordfirst", WordOrder::low_first},
    {"highwordfirst", WordOrder::high_first},
    {"lswfirst", WordOrder::low_first},
    {"mswfirst", WordOrder::high_first},
    {"lowfirst", WordOrder::low_first},
    {"highfirst", WordOrder::high_first},
    {"wordswapped", WordOrder::low_first},
    {"swapped", WordOrder::low_first},
    {"lsw", WordOrder::low_first},
    {"msw", WordOrder::high_first},
    {"abcd", WordOrder::high_first, ByteOrder::high_first},
    {"cdab", WordOrder::low_first, ByteOrder::high_first},
    {"badc", WordOrder::high_first, ByteOrder::low_first},
    {"dcba", WordOrder::low_first, ByteOrder::low_first},
};

template <class T>
std::optional<T> find_in(const std::map<std::string, T>& words, const std::string& word) {
  const auto found = words.find(word);
  return found == words.end() ? std::nullopt : std::optional(found->second);
}

const KnownType* known_type(std::string_view word) {
  const auto* found = std::find_if(std::begin(kTypes), std::end(kTypes),
                                   [&](const auto& known) { return known.word == word; });
  return found == std::end(kTypes) ? nullptr : found;
}

/// "string16" and "char20" say how many characters there are: two a register.
std::optional<TypeWord> sized_text(std::string_view word) {
  const auto digits = word.find_first_of("0123456789");
  if (digits == std::string_view::npos || digits == 0 || word.size() - digits > 3) return std::nullopt;
  const auto* known = known_type(word.substr(0, digits));
  if (known == nullptr || known->type != Type::text) return std::nullopt;
  if (word.find_first_not_of("0123456789", digits) != std::string_view::npos) return std::nullopt;
  TypeWord type{Type::text, Coding::binary, false, 0, {}};
  type.text_registers = (std::atoi(std::string(word.substr(digits)).c_str()) + 1) / 2;
  return type;
}

/// Takes an order away from the word of a type.
void take_order(std::string& text, TypeWord& found) {
  for (const auto& [order, words, bytes] : kTypeOrders) {
    if (text.size() <= order.size()) continue;
    if (text.ends_with(order))
      text.erase(text.size() - order.size());
    else if (text.starts_with(order))
      text.erase(0, order.size());
    else
      continue;
    found.word_order = words;
    found.byte_order = bytes;
    return;
  }
}

/// The numbers in a text: "03, 06, 16" -> 3, 6, 16; nothing if there is anything but digits and separators.
std::vector<int> codes_in(std::string_view text) {
  std::vector<int> codes;
  bool inside = false;
  for (const char c : text) {
    if (c >= '0' && c <= '9') {
      if (!inside) codes.push_back(0);
      codes.back() = std::min(codes.back() * 10 + (c - '0'), 1000);
      inside = true;
    } else if (std::string_view(" ,;/+&-").find(c) != std::string_view::npos) {
      inside = false;
    } else {
      return {};
    }
  }
  return codes;
}

std::vector<int> function_codes(std::string_view text) {
  constexpr std::size_t kLongest = 100;
  if (text.size() > kLongest) return {};
  std::string digits(text);
  for (const std::string_view prefix : {"0x", "FC", "fc"})
    for (auto at = digits.find(prefix); at != std::string::npos; at = digits.find(prefix))
      digits.erase(at, prefix.size());
  return codes_in(digits);
}

std::optional<modbus::Table> table_of_code(int code) {
  if (code == 1 || code == 5 || code == 15) return modbus::Table::coils;
  if (code == 2) return modbus::Table::discrete_inputs;
  if (code == 3 || code == 6 || code == 10 || code == 16) return modbus::Table::holding_registers;
  if (code == 4) return modbus::Table::input_registers;
  return std::nullopt;
}

std::optional<TableWord> by_function_codes(std::string_view text) {
  std::optional<modbus::Table> table;
  bool reads = false;
  bool writes = false;
  for (const int code : function_codes(text)) {
    const auto of_code = table_of_code(code);
    if (!of_code || (table && *table != *of_code)) return std::nullopt;
    table = of_code;
    (code <= 4 ? reads : writes) = true;
  }
  if (!table) return std::nullopt;
  TableWord word{*table, std::nullopt};
  if (writes) word.access = reads ? Access::read_write : Access::write_only;
  return word;
}

}  // namespace

Result<TypeWord, std::string> type_word(std::string_view word, const TableMapping& mapping) {
  auto text = loose(word);
  TypeWord found;
  if (const auto own = find_in(mapping.types, text)) {
    found.type = *own;
    return found;
  }
  if (known_type(text) == nullptr) take_order(text, found);
  if (const auto* known = known_type(text)) {
    found.type = known->type;
    found.coding = known->coding;
    found.any_width = known->any_width;
    return found;
  }
  if (auto sized = sized_text(text)) {
    sized->word_order = found.word_order;
    sized->byte_order = found.byte_order;
    return *sized;
  }
  const bool elsewhere =
      std::find(std::begin(kNotCarried), std::end(kNotCarried), text) != std::end(kNotCarried);
  return Failure{elsewhere ? "type '" + std::string(word) + "' is none that a register table here can carry"
                           : "unknown type '" + std::string(word) +
                                 "', expected a word such as uint16, or one "
                                 "that the mapping's `types` explains"};
}

std::optional<Access> access_word(std::string_view word, const TableMapping& mapping) {
  const auto text = loose(word);
  if (const auto own = find_in(mapping.access, text)) return own;
  for (const std::string_view known : {"r", "ro", "read", "readonly", "readable", "monitor", "output"})
    if (text == known) return Access::read_only;
  for (const std::string_view known :
       {"rw", "wr", "readwrite", "readandwrite", "writeread", "writeable", "writable"})
    if (text == known) return Access::read_write;
  for (const std::string_view known : {"w", "wo", "write", "writeonly"})
    if (text == known) return Access::write_only;
  return std::nullopt;
}

std::optional<TableWord> table_word(std::string_view word, const TableMapping& mapping) {
  const auto text = loose(word);
  if (const auto own = find_in(mapping.tables, text)) return TableWord{*own, std::nullopt};
  struct Known {
    std::string_view word;
    modbus::Table table;
  };
  static constexpr Known kTables[] = {
      {"holding", modbus::Table::holding_registers},
      {"holdingregister", modbus::Table::holding_registers},
      {"hr", modbus::Table::holding_registers},
      {"holdingreg", modbus::Table::holding_registers},
      {"hold", modbus::Table::holding_registers},
      {"holdingregisters", modbus::Table::holding_registers},
      {"4x", modbus::Table::holding_registers},
      {"4xxxx", modbus::Table::holding_registers},
      {"input", modbus::Table::input_registers},
      {"inputregister", modbus::Table::input_registers},
      {"ir", modbus::Table::input_registers},
      {"inputreg", modbus::Table::input_registers},
      {"3x", modbus::Table::input_registers},
      {"inputregisters", modbus::Table::input_registers},
      {"3xxxx", modbus::Table::input_registers},
      {"coil", modbus::Table::coils},
      {"coils", modbus::Table::coils},
      {"co", modbus::Table::coils},
      {"0x", modbus::Table::coils},
      {"0xxxx", modbus::Table::coils},
      {"discrete", modbus::Table::discrete_inputs},
      {"discreteinput", modbus::Table::discrete_inputs},
      {"di", modbus::Table::discrete_inputs},
      {"discreteinputs", modbus::Table::discrete_inputs},
      {"1x", modbus::Table::discrete_inputs},
      {"1xxxx", modbus::Table::discrete_inputs},
  };
  for (const auto& [known, table] : kTables)
    if (text == known) return TableWord{table, std::nullopt};
  return by_function_codes(word);
}

std::string why_no_table(const std::string& word) {
  std::vector<std::string> tables;
  for (const int code : function_codes(word))
    if (const auto table = table_of_code(code)) {
      auto name = std::string(word_of(*table));
      if (std::find(tables.begin(), tables.end(), name) == tables.end()) tables.push_back(std::move(name));
    }
  if (tables.size() > 1)
    return "names several tables: " + listed(tables) + "; expected one a row, found '" + word + "'";
  return "expected a table such as holding, input register, 4x or a function code, found '" + word + "'";
}

std::optional<OrderWord> order_word(std::string_view word) {
  const auto text = loose(word);
  for (const std::string_view high : {"highfirst", "bigendian", "big", "be", "msw", "mswfirst",
                                      "highwordfirst", "msbfirst", "msb", "highbytefirst"})
    if (text == high) return OrderWord{WordOrder::high_first, ByteOrder::high_first};
  for (const std::string_view low : {"lowfirst", "littleendian", "little", "le", "lsw", "lswfirst",
                                     "lowwordfirst", "lsbfirst", "lsb", "lowbytefirst"})
    if (text == low) return OrderWord{WordOrder::low_first, ByteOrder::low_first};
  if (text == "abcd") return OrderWord{WordOrder::high_first, ByteOrder::high_first, true};
  if (text == "cdab") return OrderWord{WordOrder::low_first, ByteOrder::high_first, true};
  if (text == "badc") return OrderWord{WordOrder::high_first, ByteOrder::low_first, true};
  if (text == "dcba") return OrderWord{WordOrder::low_first, ByteOrder::low_first, true};
  return std::nullopt;
}

std::optional<bool> switch_word(std::string_view word) {
  const auto text = loose(word);
  for (const std::string_view on :
       {"on", "true", "yes", "y", "x", "1", "kept", "nonvolatile", "nv", "stored"})
    if (text == on) return true;
  for (const std::string_view off : {"", "off", "false", "no", "n", "0", "volatile"})
    if (text == off) return false;
  return std::nullopt;
}

std::optional<registers::OutOfRange> out_of_range_word(std::string_view word) {
  using registers::OutOfRange;
  for (const auto known :
       {OutOfRange::exception_03, OutOfRange::exception_04, OutOfRange::clamp, OutOfRange::ignore})
    if (loose(word) == loose(word_of(known))) return known;
  return std::nullopt;
}

}  // namespace emberline::io
