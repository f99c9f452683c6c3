#include <algorithm>

#include "sim/io/tables/table_blocks.hpp"
#include "sim/io/tables/table_formats.hpp"
#include "sim/io/tables/table_notes.hpp"
#include "sim/io/tables/table_st_header.hpp"
#include "sim/io/tables/table_st_helpers.hpp"
#include "sim/io/tables/table_st_names.hpp"
#include "sim/io/tables/table_st_rows.hpp"
#include "sim/io/tables/table_words.hpp"

namespace emberline::io {
namespace {

using registers::Row;

constexpr std::size_t kLongestPrefix = 16;
constexpr std::string_view kBlockType = "EMB_BLOCK";

/// A table with the names of everything in it.
struct StTable {
  const ListedTable* listed = nullptr;
  std::string prefix;  ///< "SHORT_BLOCKS"
  std::string points;  ///< the structure
  std::string take;    ///< a function that takes registers; empty where there are none
  std::vector<StRow> rows;
};

/// The rows that get names: input registers that are the same as holding do not.
std::vector<const Row*> rows_of(const registers::RegisterTable& table) {
  std::vector<const Row*> rows;
  const bool once = input_is_holding(table);
  for (const auto kind : listing_order())
    for (const auto& row : table.rows())
      if (row.table == kind && !(once && kind == modbus::Table::input_registers)) rows.push_back(&row);
  return rows;
}

std::string wanted_name(const Row& row) {
  std::string name(name_of(row));
  // Of these a table may have many, and none of them says what it is.
  if (!carries_point(row) && !row.text)
    return name + "_AT_" + registers::reference_number(row.address, row.table);
  const auto flag = flag_word(row);
  return flag.empty() ? name : name + "_" + std::string(flag);
}

StTable named(const ListedTable& listed, StNames& names, StHelpers& helpers) {
  StTable table;
  table.listed = &listed;
  table.prefix = names.take(st_short_identifier(listed.table->title(), kLongestPrefix));
  table.points = names.take(table.prefix + "_POINTS");
  StNames members;
  for (const auto* row : rows_of(*listed.table)) {
    StRow st;
    st.row = row;
    st.kind = st_kind_of(*row);
    st.type = st_type_of(*row);
    st.member =
        members.take(wanted_name(*row), "AT_" + registers::reference_number(row->address, row->table));
    st.prefix = table.prefix + "_" + st.member;
    const bool is_read = row->access != registers::Access::write_only;
    if (is_read && st_has_valid(*row)) st.told = members.take(st.member + "_VALID");
    if (st_has_get(*row)) st.get = names.take(table.prefix + "_GET_" + st.member);
    if (st_has_set(*row)) st.set = names.take(table.prefix + "_SET_" + st.member);
    if (st_has_valid(*row)) st.valid = names.take(table.prefix + "_VALID_" + st.member);
    if (st.kind == StKind::text) helpers.use("EMB_TEXT");
    table.rows.push_back(std::move(st));
  }
  return table;
}

std::string place_words(const Row& row) {
  return registers::hexadecimal(row.address) + " = " + std::to_string(row.address) + ", " +
         registers::reference_number(row.address, row.table);
}

/// What a member means: its unit, or when it is TRUE; where it stands; what may be done with it.
std::string member_comment(const StRow& st) {
  const Row& row = *st.row;
  std::string what;
  if (st.kind == StKind::quantity) what = natural_unit(dimension_of(row));
  if (const auto flag = flag_word(row); !flag.empty()) what = "TRUE: " + std::string(flag);
  return (what.empty() ? "" : what + "; ") + place_words(row) + ", " +
         std::string(short_word_of(row.access)) + "; " + meaning_of(row);
}

std::string points_type(const StTable& table) {
  std::string text = "\n  (* The points of a unit with the table " +
                     st_comment(table.listed->table->title()) + ". *)\n  " + table.points + " : STRUCT\n";
  for (const auto& st : table.rows) {
    text += "    " + st.member + " : " + st.type + "; (* " + st_comment(member_comment(st)) + " *)\n";
    if (!st.told.empty())
      text += "    " + st.told + " : BOOL; (* FALSE: it holds no value, and " + st.member +
              " is what it was before *)\n";
  }
  return text + "  END_STRUCT;\n";
}

std::string types(const std::vector<StTable>& tables) {
  std::string text =
      "\nTYPE\n  (* A read request: function codes 1 to 4, zero-based address, registers or bits. *)\n  " +
      std::string(kBlockType) +
      " : STRUCT\n    unit_id : USINT;\n    function_code : USINT;\n    first : UINT;\n"
      "    count : UINT;\n  END_STRUCT;\n";
  for (const auto& table : tables) text += points_type(table);
  return text + "END_TYPE\n";
}

std::string take_line(const StRow& st) {
  const Row& row = *st.row;
  const auto address = "UDINT#" + st_hex(row.address, 4);
  const auto count = "UDINT#" + std::to_string(register_count(row.layout));
  std::string condition =
      "EMB_HAS(first := first, count := count, address := " + address + ", registers := " + count + ")";
  std::string value;
  if (st.kind == StKind::text) {
    value = "EMB_TEXT(at_word := " + address + " - first, registers := " + count + ", low_byte_first := " +
            (row.layout.byte_order == registers::ByteOrder::low_first ? "TRUE" : "FALSE") +
            ", words := words)";
  } else if (st.get.empty()) {
    value = "bits[" + address + " - first]";
  } else {
    value = st.get + "(" + st_words_from_block(row) + ")";
  }
  // Not in one condition: AND may well look at both sides, and words[] of what is not there is out of bounds.
  std::string text = "  IF " + condition + " THEN\n";
  const auto indent = st.told.empty() ? std::string("    ") : std::string("      ");
  if (!st.told.empty())
    text += "    points." + st.told + " := " + st.valid + "(" + st_words_from_block(row) +
            ");\n    IF points." + st.told + " THEN\n";
  text += indent + "points." + st.member + " := " + value + ";\n" + indent + "taken := taken + UINT#1;\n";
  if (!st.told.empty()) text += "    END_IF;\n";
  return text + "  END_IF;\n";
}

std::string take_function(StTable& table, modbus::Table kind, StNames& names, StHelpers& helpers) {
  std::string lines;
  for (const auto& st : table.rows)
    if (st.row->table == kind && st.row->access != registers::Access::write_only) lines += take_line(st);
  if (lines.empty()) return lines;
  helpers.use("EMB_HAS");
  const bool in_bits = modbus::carries_bits(kind);
  const bool serves_input =
      kind == modbus::Table::holding_registers && input_is_holding(*table.listed->table);
  const auto name = names.take(table.prefix + "_TAKE_" + st_identifier(word_of(kind)));
  if (!in_bits && table.take.empty()) table.take = name;
  return "\n(* What a block read of " + std::string(in_bits ? "bits" : "registers") + " (" +
         std::string(word_of(kind)) + ") brought: puts into `points` what is whole in it. Says how many;\n" +
         "   what holds no value is left as it was, its ..._VALID becomes FALSE, and it does not count. "
         "first:\n"
         "   zero-based; " +
         (in_bits ? "bits[0] is the bit" : "words[0] is the register") + " at `first`." +
         (serves_input
              ? "\n   " + name + " serves function code 4 as well: input registers are the holding registers."
              : "") +
         " *)\nFUNCTION " + name +
         " : UINT\n  VAR_INPUT\n    first, count : UDINT;\n  END_VAR\n  VAR_IN_OUT\n    " +
         (in_bits ? "bits : ARRAY [0..1999] OF BOOL" : "words : ARRAY [0..124] OF WORD") +
         ";\n    points : " + table.points +
         ";\n  END_VAR\n  VAR\n    taken : UINT;\n  END_VAR\n  taken := UINT#0;\n" + lines + "  " + name +
         " := taken;\nEND_FUNCTION\n";
}

std::string functions(StTable& table, StNames& names, StHelpers& helpers) {
  std::string text;
  for (const auto& st : table.rows) {
    if (!st.get.empty()) text += st_get_function(st, helpers);
    if (!st.set.empty()) text += st_set_function(st, helpers);
    if (!st.valid.empty()) text += st_valid_function(st, helpers);
  }
  for (const auto kind : listing_order()) text += take_function(table, kind, names, helpers);
  return text;
}

std::string constant(const std::string& name, const std::string& type, const std::string& value,
                     const std::string& comment = {}) {
  const auto* const gap = value.front() == '\n' ? "" : " ";
  return "  " + name + " : " + type + " :=" + gap + value + ";" +
         (comment.empty() ? "" : " (* " + st_comment(comment) + " *)") + "\n";
}

/// "04E4", as it stands in names.
std::string hex_digits(std::uint16_t address) { return registers::hexadecimal(address).substr(2); }

/// A mask says in its name which register it is for: the same word may stand in a word of all of them and in
/// a bit elsewhere.
std::string row_constants(const StRow& st, const std::string& table_prefix, StNames& names) {
  const Row& row = *st.row;
  auto text =
      constant(names.take(st.prefix + "_ADDRESS"), "UINT", st_hex(row.address, 4),
               std::to_string(row.address) + ", " + registers::reference_number(row.address, row.table));
  if (register_count(row.layout) > 1)
    text += constant(names.take(st.prefix + "_COUNT"), "UINT", std::to_string(register_count(row.layout)));
  if (!st.get.empty() && st.kind == StKind::switched) {
    const bool swapped = row.layout.byte_order == registers::ByteOrder::low_first;
    const auto in_word =
        static_cast<unsigned>(row.bit_position) ^ (swapped ? 8U : 0U);  // as the bus brings it
    text += constant(names.take(st.prefix + "_BIT_AT_" + hex_digits(row.address)), "WORD",
                     st_hex(1ULL << in_word, 4));
  }
  if (row.range && st.kind == StKind::quantity) {
    const std::string unit(natural_unit(dimension_of(row)));
    const auto number = [&row](double value) {
      return st_lreal(std::stod(in_natural_unit(value, dimension_of(row))));
    };
    text += constant(names.take(st.prefix + "_LOWEST"), "LREAL", number(row.range->first), unit);
    text += constant(names.take(st.prefix + "_HIGHEST"), "LREAL", number(row.range->second), unit);
  }
  for (const auto& [word, number] : carried_values(row))
    text += constant(names.take(st.prefix + "_" + std::string(word)), st.type, std::to_string(number));
  for (const auto& [word, bit] : carried_flags(row))
    text += constant(names.take(table_prefix + "_" + std::string(word) + "_IN_" + st.member), st.type,
                     st_hex(1ULL << static_cast<unsigned>(bit), 4), "bit " + std::to_string(bit));
  return text;
}

/// The function code that reads a kind (MODBUS Application Protocol V1.1b3, 6.1 to 6.4).
int code_of(modbus::Table kind) {
  switch (kind) {
    case modbus::Table::coils:
      return 1;
    case modbus::Table::discrete_inputs:
      return 2;
    case modbus::Table::holding_registers:
      return 3;
    case modbus::Table::input_registers:
      return 4;
  }
  return 3;
}

std::string block_constants(const std::string& prefix, const registers::RegisterTable& table, int id,
                            int largest_block, StNames& names) {
  const auto blocks = block_reads(table, largest_block);
  if (blocks.empty()) return {};
  const auto count = std::to_string(blocks.size());
  std::string list;
  for (const auto& [kind, range] : blocks)
    list += (list.empty() ? "\n    [" : ",\n     ") + std::string("(unit_id := ") + std::to_string(id) +
            ", function_code := " + std::to_string(code_of(kind)) + ", first := " + st_hex(range.first, 4) +
            ", count := " + std::to_string(range.count) + ")";
  return constant(names.take(prefix + "_BLOCK_COUNT"), "UINT", count) +
         constant(names.take(prefix + "_BLOCKS"), "ARRAY [1.." + count + "] OF " + std::string(kBlockType),
                  list + "]");
}

std::string constants(const StTable& table, StNames& names) {
  std::string text =
      "\n  (* Table " + st_comment(table.listed->table->title()) + ": zero-based addresses. *)\n";
  for (const auto& st : table.rows) text += row_constants(st, table.prefix, names);
  if (table.listed->users.empty()) {
    text += "\n  (* Block reads of everything; the unit id is yours to set. *)\n" +
            block_constants(table.prefix, *table.listed->table, 1, 0, names);
  }
  for (const auto& user : table.listed->users) {
    const auto unit = names.take(user.name);
    text += "\n  (* " + st_comment(user.name) + ": " + table.points + ". Block reads of everything" +
            (user.largest_block > 0 ? ", at most " + std::to_string(user.largest_block) + " registers each"
                                    : "") +
            ". *)\n" + constant(names.take(unit + "_ID"), "USINT", std::to_string(user.id)) +
            block_constants(unit, *table.listed->table, user.id, user.largest_block, names);
  }
  return text;
}

}  // namespace

std::string registers_st(const RegisterList& list) {
  StNames names;
  StHelpers helpers;
  names.take("EMB");  // ours: no table's names begin with it
  std::vector<StTable> tables;
  for (const auto& listed : list.tables) tables.push_back(named(listed, names, helpers));
  std::string function_text;
  std::string constant_text;
  for (auto& table : tables) {
    function_text += functions(table, names, helpers);
    constant_text += constants(table, names);
  }
  const auto with_words =
      std::find_if(tables.begin(), tables.end(), [](const StTable& table) { return !table.take.empty(); });
  const bool has_words = with_words != tables.end();
  return st_narrow(st_header(list, has_words ? with_words->take : "..._TAKE_HOLDING",
                             has_words ? with_words->points : "..._POINTS") +
                   types(tables) + helpers.text() + function_text + "\nVAR_GLOBAL CONSTANT\n" +
                   constant_text.substr(1) + "END_VAR\n");
}

}  // namespace emberline::io
