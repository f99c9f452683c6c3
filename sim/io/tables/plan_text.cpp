#include <algorithm>

#include "sim/io/tables/plan_formats.hpp"
#include "sim/io/tables/plan_sheet.hpp"

namespace emberline::io {
namespace {

constexpr std::size_t kWidth = 100;
constexpr std::size_t kIndent = 2;
constexpr std::size_t kRemarkIndent = 6;

std::string spaces(std::size_t count) { return std::string(count, ' '); }

/// Columns a text takes: bytes that continue a character (RFC 3629) take none.
std::size_t columns_of(std::string_view text) {
  return static_cast<std::size_t>(std::count_if(
      text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

/// Broken at blanks; the first line begins at `indent`, the others at `hanging`.
std::string wrapped(std::string_view text, std::size_t indent, std::size_t hanging) {
  std::string out = spaces(indent);
  std::size_t column = indent;
  bool begun = false;
  while (!text.empty()) {
    const auto end = std::min(text.find(' '), text.size());
    const auto word = text.substr(0, end);
    text.remove_prefix(std::min(end + 1, text.size()));
    const auto width = columns_of(word);
    if (begun && column + 1 + width > kWidth) {
      out += "\n" + spaces(hanging);
      column = hanging;
      begun = false;
    }
    if (begun) {
      out += ' ';
      ++column;
    }
    out += word;
    column += width;
    begun = true;
  }
  return out + "\n";
}

std::string row_text(const std::vector<std::string>& cells, const PlanTable& table,
                     const std::vector<std::size_t>& widths) {
  std::string out = spaces(kIndent);
  for (std::size_t i = 0; i < cells.size(); ++i) {
    const auto gap = spaces(widths[i] - columns_of(cells[i]));
    out += (i > 0 ? "  " : "") + (table.columns[i].right ? gap + cells[i] : cells[i] + gap);
  }
  out.erase(out.find_last_not_of(' ') + 1);
  return out + "\n";
}

std::string table_text(const PlanTable& table) {
  std::vector<std::string> heads;
  std::vector<std::size_t> widths;
  for (const auto& column : table.columns) {
    heads.push_back(column.head);
    widths.push_back(columns_of(column.head));
  }
  for (const auto& row : table.rows)
    for (std::size_t i = 0; i < row.size(); ++i) widths[i] = std::max(widths[i], columns_of(row[i]));
  std::string out = row_text(heads, table, widths);
  for (std::size_t i = 0; i < table.rows.size(); ++i) {
    out += row_text(table.rows[i], table, widths);
    if (i < table.remarks.size()) out += wrapped(table.remarks[i], kRemarkIndent, kRemarkIndent + 2);
  }
  return out;
}

std::string paragraph(const std::string& text, std::size_t indent) {
  return wrapped(text, indent, indent + (text.starts_with("- ") ? 2 : 0));
}

}  // namespace

std::string plan_text(const polling::PollPlan& plan) {
  const auto sheet = sheet_of(plan);
  std::string out = sheet.title + "\n";
  for (const auto& text : sheet.lead) out += paragraph(text, kIndent);
  for (const auto& section : sheet.sections) {
    out += "\n" + section.title + "\n";
    for (const auto& text : section.before) out += paragraph(text, kIndent);
    if (!section.table.columns.empty()) out += table_text(section.table);
    for (const auto& text : section.after) out += paragraph(text, kIndent);
  }
  return out;
}

}  // namespace emberline::io
