#include "sim/io/tables/table_blocks.hpp"
#include "sim/io/tables/table_formats.hpp"
#include "sim/io/tables/table_notes.hpp"
#include "sim/io/tables/table_words.hpp"

namespace emberline::io {
namespace {

/// Text that stays text in a cell: what Markdown would take for a mark of its own gets a backslash
/// (CommonMark 0.30, 2.4); a pipe would end the cell (GitHub Flavored Markdown, 4.10).
std::string plain(std::string_view text) {
  std::string escaped;
  for (const char c : text) {
    if (std::string_view("\\|`*_<>[]#~&").find(c) != std::string_view::npos) escaped += '\\';
    escaped += c == '\n' || c == '\r' ? ' ' : c;
  }
  return escaped;
}

/// What stands verbatim, such as names to be copied; without marks of its own where it has a backquote.
std::string code(std::string_view text) {
  if (text.empty() || text.find_first_of("`|\n\r\\") != std::string_view::npos) return plain(text);
  return "`" + std::string(text) + "`";
}

std::string cells_of(const std::vector<std::string>& cells) {
  std::string line = "|";
  for (const auto& cell : cells) line += cell.empty() ? " |" : " " + cell + " |";
  return line + "\n";
}

std::string row_line(const registers::Row& row) {
  const auto cells = listed_cells(row);
  return cells_of({code(cells[0]), cells[1], cells[2], code(cells[3]), cells[4], plain(cells[5]), cells[6],
                   plain(cells[7])});
}

std::string words_of(const registers::Row& row) {
  std::string text;
  for (const auto& [word, number] : carried_values(row))
    text += (text.empty() ? "" : ", ") + std::to_string(number) + " " + code(word);
  for (const auto& [word, bit] : carried_flags(row))
    text += (text.empty() ? "" : ", ") + std::string("bit ") + std::to_string(bit) + " " + code(word);
  return text;
}

std::string words_section(const registers::RegisterTable& table) {
  std::string text;
  const bool once = input_is_holding(table);
  for (const auto kind : listing_order()) {
    if (once && kind == modbus::Table::input_registers) continue;
    for (const auto& row : table.rows()) {
      const auto words = row.table == kind ? words_of(row) : std::string();
      if (!words.empty())
        text += "- " + code(name_of(row)) + " at " + registers::both_ways(row.address, row.table) + ": " +
                words + "\n";
    }
  }
  return text.empty() ? text : "\n### Words and bits\n\n" + text;
}

std::string block_lines(const registers::RegisterTable& table, const std::string& whose, int largest_block) {
  std::string text;
  for (const auto& [kind, range] : block_reads(table, largest_block)) {
    text += cells_of({whose, std::string(word_of(kind)), code(registers::hexadecimal(range.first)),
                      std::to_string(range.first), registers::reference_number(range.first, kind),
                      std::to_string(range.count)});
  }
  return text;
}

std::string blocks_section(const ListedTable& listed) {
  std::string text = "\n### Block reads\n\n" +
                     cells_of({"unit", "table", "address", "", "reference", "count"}) +
                     "|---|---|---|--:|--:|--:|\n";
  if (listed.users.empty()) text += block_lines(*listed.table, "any", 0);
  for (const auto& user : listed.users)
    text += block_lines(*listed.table, plain(user.name) + " (id " + std::to_string(user.id) + ")",
                        user.largest_block);
  return text;
}

std::string section(const ListedTable& listed) {
  const auto& table = *listed.table;
  std::string text = "\n## " + plain(table.title()) + "\n";
  std::string users;
  for (const auto& user : listed.users)
    users += (users.empty() ? "" : ", ") + plain(user.name) + " (unit id " + std::to_string(user.id) + ")";
  if (!users.empty()) text += "\nUsed by " + users + ".\n";
  const bool once = input_is_holding(table);
  for (const auto kind : listing_order()) {
    std::string rows;
    for (const auto& row : table.rows())
      if (row.table == kind) rows += row_line(row);
    if (rows.empty()) continue;
    text += "\n### " + std::string(heading_of(kind)) + "\n\n";
    if (once && kind == modbus::Table::input_registers) {
      text += "The same addresses as the holding registers, read-only.\n";
      continue;
    }
    text += cells_of(listed_heads()) + "|---|--:|--:|---|---|---|---|---|\n" + rows;
  }
  return text + words_section(table) + blocks_section(listed);
}

}  // namespace

std::string registers_markdown(const RegisterList& list) {
  std::string text = "# Registers: " + plain(list.title) + "\n";
  for (const auto& paragraph : address_legend()) text += "\n" + plain(paragraph) + "\n";
  text += "\n**Caution.** " + plain(list_caution()) + "\n";
  for (const auto& listed : list.tables) text += section(listed);
  return text + "\nWritten by " + plain(list.program) + ".\n";
}

}  // namespace emberline::io
