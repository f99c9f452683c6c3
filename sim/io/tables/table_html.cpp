#include "sim/io/tables/table_blocks.hpp"
#include "sim/io/tables/table_formats.hpp"
#include "sim/io/tables/table_notes.hpp"
#include "sim/io/tables/table_words.hpp"

namespace emberline::io {
namespace {

// Black on white and no colour at all: it is for paper first.
constexpr std::string_view kStyle = R"css(
:root { color-scheme: light; --ink: #1b1f24; --soft: #50565e; --rule: #c9cdd2; --wash: #f2f3f5; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 2rem 1.5rem 3rem; max-width: 70rem; background: #ffffff; color: var(--ink);
  font: 15px/1.4 system-ui, "DejaVu Sans", "Liberation Sans", Arial, sans-serif; font-variant-numeric: tabular-nums; }
header { border-bottom: 3px solid var(--ink); padding-bottom: .8rem; margin-bottom: 1rem; }
.kicker { text-transform: uppercase; letter-spacing: .08em; font-size: .78rem; color: var(--soft);
  margin: 0 0 .3rem; }
h1 { font-size: 1.7rem; line-height: 1.2; margin: 0; }
h2 { font-size: 1.3rem; margin: 2.2rem 0 .3rem; padding-top: .5rem; border-top: 2px solid var(--ink); }
h3 { font-size: 1rem; margin: 1.4rem 0 .3rem; }
p { margin: .4rem 0; max-width: 52rem; } .soft { color: var(--soft); }
.caution { border: 1px solid var(--ink); border-left-width: 6px; background: var(--wash); padding: .5rem .8rem;
  margin: 1rem 0; max-width: none; }
table { border-collapse: collapse; width: 100%; margin: .3rem 0 1rem; font-size: .88rem; }
th { text-align: left; color: var(--soft); border-bottom: 2px solid var(--ink); padding: .2rem .7rem .2rem 0;
  vertical-align: bottom; font-size: .8rem; }
td { border-bottom: 1px solid var(--rule); padding: .25rem .7rem .25rem 0; vertical-align: top; }
th:last-child, td:last-child { padding-right: 0; }
.n { text-align: right; } .n, .a, .w { white-space: nowrap; }
.a, .name { font-family: ui-monospace, "DejaVu Sans Mono", "Liberation Mono", monospace; font-size: .95em; }
.name { font-weight: 700; } tr.write .name::after { content: "\00A0\270E"; font-family: "DejaVu Sans", sans-serif;
  font-weight: 400; }
dl { margin: .3rem 0 1rem; } dt { font-weight: 700; margin-top: .5rem; } dd { margin: .1rem 0 0 1.2rem; }
dd span { display: inline-block; min-width: 15rem; padding-right: 1rem; }
footer { margin-top: 2rem; border-top: 1px solid var(--rule); padding-top: .5rem; color: var(--soft);
  font-size: .85rem; }
@page { size: A4; margin: 15mm 13mm 16mm; }
@media print {
  body { max-width: none; padding: 0; font-size: 9pt; } h1 { font-size: 16pt; } h2 { font-size: 12.5pt; }
  h3 { font-size: 10.5pt; }
  h2, h3, dt { break-after: avoid; } tr, dd, .caution, .legend p { break-inside: avoid; }
  thead { display: table-header-group; }
  section + section { break-before: page; } section + section h2 { border-top: 0; margin-top: 0; }
  table { font-size: 8pt; } td, th { padding-right: 2mm; } dd span { min-width: 42mm; }
}
@media screen and (max-width: 46rem) { table { display: block; overflow-x: auto; } }
)css";

std::string escaped(std::string_view text) {
  std::string html;
  for (const char c : text) {
    switch (c) {
      case '&':
        html += "&amp;";
        break;
      case '<':
        html += "&lt;";
        break;
      case '>':
        html += "&gt;";
        break;
      case '"':
        html += "&quot;";
        break;
      default:
        html += c;
    }
  }
  return html;
}

/// A long name may be broken behind its underscores, and nowhere else.
std::string breakable(std::string_view name) {
  std::string html;
  for (const char c : escaped(name)) html += c == '_' ? std::string("_<wbr>") : std::string(1, c);
  return html;
}

/// A cell of a class of the style.
struct Cell {
  std::string_view kind;
  std::string text;
};

std::string row_of(std::string_view element, const std::vector<Cell>& cells, std::string_view kind = {}) {
  std::string html = kind.empty() ? "<tr>" : "<tr class=\"" + std::string(kind) + "\">";
  for (const auto& [class_of, text] : cells) {
    html += "<" + std::string(element);
    if (!class_of.empty()) html += " class=\"" + std::string(class_of) + "\"";
    html += ">" + (class_of == "name" ? breakable(text) : escaped(text)) + "</" + std::string(element) + ">";
  }
  return html + "</tr>\n";
}

std::string table_of(const std::vector<Cell>& heads, const std::string& rows) {
  return "<table><thead>" + row_of("th", heads) + "</thead><tbody>\n" + rows + "</tbody></table>\n";
}

std::string registers_of(const registers::RegisterTable& table, modbus::Table kind) {
  std::string rows;
  for (const auto& row : table.rows()) {
    if (row.table != kind) continue;
    auto cells = listed_cells(row);
    rows += row_of("td",
                   {{"a", cells[0]},
                    {"n", cells[1]},
                    {"n", cells[2]},
                    {"name", cells[3]},
                    {"w", cells[4]},
                    {"w", cells[5]},
                    {"w", cells[6]},
                    {"", cells[7]}},
                   row.access == registers::Access::read_only ? "" : "write");
  }
  if (rows.empty()) return rows;
  return table_of({{"", "zero-based"},
                   {"n", "decimal"},
                   {"n", "reference"},
                   {"", "point"},
                   {"", "as"},
                   {"", "scale"},
                   {"", "access"},
                   {"", "notes"}},
                  rows);
}

std::string words_of(const registers::Row& row) {
  std::string html;
  const auto add = [&html](const std::string& number, std::string_view word) {
    html += "<span>" + escaped(number) + " = " + escaped(word) + "</span>";
  };
  for (const auto& [word, number] : carried_values(row)) add(std::to_string(number), word);
  for (const auto& [word, bit] : carried_flags(row)) add("bit " + std::to_string(bit), word);
  if (html.empty()) return html;
  return "<dt>" + escaped(name_of(row)) + " at " + escaped(registers::both_ways(row.address, row.table)) +
         "</dt><dd>" + html + "</dd>\n";
}

std::string words_section(const registers::RegisterTable& table) {
  std::string html;
  const bool once = input_is_holding(table);
  for (const auto kind : listing_order())
    for (const auto& row : table.rows())
      if (row.table == kind && !(once && kind == modbus::Table::input_registers)) html += words_of(row);
  return html.empty() ? html : "<h3>Words and bits</h3>\n<dl>\n" + html + "</dl>\n";
}

std::string block_rows(const registers::RegisterTable& table, const std::string& whose, int largest_block) {
  std::string rows;
  for (const auto& [kind, range] : block_reads(table, largest_block)) {
    rows += row_of("td", {{"", whose},
                          {"w", std::string(word_of(kind))},
                          {"a", registers::hexadecimal(range.first)},
                          {"n", std::to_string(range.first)},
                          {"n", registers::reference_number(range.first, kind)},
                          {"n", std::to_string(range.count)}});
  }
  return rows;
}

std::string blocks_section(const ListedTable& listed) {
  std::string rows;
  if (listed.users.empty()) rows = block_rows(*listed.table, "any", 0);
  for (const auto& user : listed.users)
    rows +=
        block_rows(*listed.table, user.name + " (id " + std::to_string(user.id) + ")", user.largest_block);
  return "<h3>Block reads</h3>\n<p class=\"soft\">Everything readable in as few requests as there can be "
         "without reading an address that is not there, or more than the unit takes at once.</p>\n" +
         table_of({{"", "unit"},
                   {"", "table"},
                   {"", "zero-based"},
                   {"n", "decimal"},
                   {"n", "reference"},
                   {"n", "count"}},
                  rows);
}

std::string section(const ListedTable& listed) {
  const auto& table = *listed.table;
  std::string html = "<section>\n<h2>" + escaped(table.title()) + "</h2>\n";
  std::string users;
  for (const auto& user : listed.users)
    users += (users.empty() ? "" : ", ") + escaped(user.name) + " (unit id " + std::to_string(user.id) + ")";
  if (!users.empty()) html += "<p>Used by " + users + ".</p>\n";
  html +=
      table.gaps() == registers::Gaps::zero
          ? "<p class=\"soft\">Addresses between these that are not listed read as 0.</p>\n"
          : "<p class=\"soft\">A request that touches an address that is not listed gets exception 02.</p>\n";
  const bool once = input_is_holding(table);
  for (const auto kind : listing_order()) {
    const auto rows = registers_of(table, kind);
    if (rows.empty()) continue;
    html += "<h3>" + escaped(heading_of(kind)) + "</h3>\n";
    html += once && kind == modbus::Table::input_registers
                ? "<p>The same addresses as the holding registers, read-only.</p>\n"
                : rows;
  }
  return html + words_section(table) + blocks_section(listed) + "</section>\n";
}

}  // namespace

std::string registers_html(const RegisterList& list) {
  std::string html =
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>Registers: " +
      escaped(list.title) + "</title>\n<style>" + std::string(kStyle) + "</style></head>\n<body>\n" +
      "<header><p class=\"kicker\">Registers</p><h1>" + escaped(list.title) + "</h1></header>\n" +
      "<div class=\"legend\">\n";
  for (const auto& paragraph : address_legend()) html += "<p>" + escaped(paragraph) + "</p>\n";
  html += "<p>A pencil (\xE2\x9C\x8E) behind a name: it can be written.</p>\n</div>\n";
  html += "<p class=\"caution\"><b>Caution.</b> " + escaped(list_caution()) + "</p>\n";
  for (const auto& listed : list.tables) html += section(listed);
  return html + "<footer>Written by " + escaped(list.program) + ".</footer>\n</body></html>\n";
}

}  // namespace emberline::io
