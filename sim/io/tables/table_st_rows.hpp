#pragma once

#include <string>
#include <vector>

#include "sim/io/tables/table_st_helpers.hpp"
#include "sim/registers/register_table.hpp"

namespace emberline::io {

/// What a row's value is in a program.
enum class StKind {
  switched,  ///< one bit: BOOL
  numbered,  ///< a word of an enumeration by its number as carried
  flagged,   ///< bits as carried: WORD, DWORD
  whole,     ///< a whole number without a unit
  quantity,  ///< LREAL in the natural unit
  text       ///< STRING
};

/// A row as Structured Text has it.
struct StRow {
  const registers::Row* row = nullptr;
  StKind kind = StKind::quantity;
  std::string type;    ///< of the value: "LREAL"
  std::string member;  ///< in the structure of the points
  std::string told;    ///< the member that says whether it holds a value; empty where it always does
  std::string prefix;  ///< of the table and member, for constants: "SHORT_BLOCKS_SETPOINT"
  std::string get;     ///< names of functions; empty where there is none
  std::string set;
  std::string valid;
};

/// Kind and type of a row.
[[nodiscard]] StKind st_kind_of(const registers::Row& row);
[[nodiscard]] std::string st_type_of(const registers::Row& row);
/// Whether there is something to convert: all but coils, discrete inputs and text.
[[nodiscard]] bool st_has_get(const registers::Row& row);
/// Whether a value can be made into registers to be written.
[[nodiscard]] bool st_has_set(const registers::Row& row);
/// Whether registers can hold what is no value: a float that is none, digits that are none, numbers that no
/// word has, the number that says so.
[[nodiscard]] bool st_has_valid(const registers::Row& row);

/// The functions of a row, with those they use in `helpers`.
[[nodiscard]] std::string st_get_function(const StRow& row, StHelpers& helpers);
[[nodiscard]] std::string st_set_function(const StRow& row, StHelpers& helpers);
[[nodiscard]] std::string st_valid_function(const StRow& row, StHelpers& helpers);

/// "word_0 := words[16#0030 - first], ...", for calls of get and valid.
[[nodiscard]] std::string st_words_from_block(const registers::Row& row);

}  // namespace emberline::io
