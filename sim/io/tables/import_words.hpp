#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "sim/io/files/table_mapping_file.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::io {

// The usual words of register tables (common practice, no source, but for the type names of IEC 61131-3:2013,
// table 10). Case, blanks and punctuation do not matter. A mapping's own words come first.

/// What a word for a type says.
struct TypeWord {
  registers::Type type = registers::Type::u16;
  registers::Coding coding = registers::Coding::binary;
  bool any_width = false;                            ///< "unsigned": as wide as the registers it has
  int text_registers = 0;                            ///< "string[16]": 8
  std::optional<registers::WordOrder> word_order{};  ///< "float, low word first"
  std::optional<registers::ByteOrder> byte_order{};  ///< "float CDAB", which says both
};
/// The error says why there is no such type here, or that the word is not known.
[[nodiscard]] Result<TypeWord, std::string> type_word(std::string_view word, const TableMapping& mapping);

/// "R/W", "read only", "w".
[[nodiscard]] std::optional<registers::Access> access_word(std::string_view word,
                                                           const TableMapping& mapping);

/// What a table column says: a table by name, or by function codes, which may write too.
struct TableWord {
  modbus::Table table;
  std::optional<registers::Access> access{};  ///< where the codes say it: "03, 06, 16"
};
/// "holding", "4x", "HR", "03", "03/16"; digits alone are function codes (Application Protocol V1.1b3, 6).
[[nodiscard]] std::optional<TableWord> table_word(std::string_view word, const TableMapping& mapping);

/// Why table_word takes nothing.
[[nodiscard]] std::string why_no_table(const std::string& word);

/// Which end comes first, of words and of bytes.
struct OrderWord {
  std::optional<registers::WordOrder> words{};
  std::optional<registers::ByteOrder> bytes{};
  bool letters = false;  ///< "CDAB", which says both wherever it stands
};
/// "high-first", "big endian", "LSW first", "CDAB" (A: the most significant of four bytes).
[[nodiscard]] std::optional<OrderWord> order_word(std::string_view word);

/// on/off, true/false, yes/no, x, 1/0; nothing if it is none.
[[nodiscard]] std::optional<bool> switch_word(std::string_view word);

/// "exception-03", "clamp" and the like, as our own files have them.
[[nodiscard]] std::optional<registers::OutOfRange> out_of_range_word(std::string_view word);

}  // namespace emberline::io
