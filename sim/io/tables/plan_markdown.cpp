#include "sim/io/tables/plan_formats.hpp"
#include "sim/io/tables/plan_sheet.hpp"

namespace emberline::io {
namespace {

/// Text of users: what Markdown would take for its own is escaped (CommonMark 0.31, 2.4).
std::string escaped_text(std::string_view text) {
  std::string out;
  for (const char c : text) {
    if (std::string_view("\\`*_[]<>|#").find(c) != std::string_view::npos) out += '\\';
    out += c;
  }
  return out;
}

std::string row_text(const std::vector<std::string>& cells) {
  std::string out = "|";
  for (const auto& cell : cells) out += " " + escaped_text(cell) + " |";
  return out + "\n";
}

std::string table_text(const PlanTable& table) {
  std::vector<std::string> heads;
  std::string rule = "|";
  for (const auto& column : table.columns) {
    heads.push_back(column.head);
    rule += column.right ? "---:|" : "---|";
  }
  if (!table.remarks.empty()) {
    heads.push_back(table.remark_head);
    rule += "---|";
  }
  std::string out = row_text(heads) + rule + "\n";
  for (std::size_t i = 0; i < table.rows.size(); ++i) {
    auto cells = table.rows[i];
    if (!table.remarks.empty()) cells.push_back(table.remarks[i]);
    out += row_text(cells);
  }
  return out + "\n";
}

std::string paragraph(const std::string& text) {
  if (text.starts_with("- ")) return "- " + escaped_text(text.substr(2)) + "\n\n";
  return escaped_text(text) + "\n\n";
}

}  // namespace

std::string plan_markdown(const polling::PollPlan& plan) {
  const auto sheet = sheet_of(plan);
  std::string out = "# " + escaped_text(sheet.title) + "\n\n";
  for (const auto& text : sheet.lead) out += paragraph(text);
  for (const auto& section : sheet.sections) {
    out += "## " + section.title + "\n\n";
    for (const auto& text : section.before) out += paragraph(text);
    if (!section.table.columns.empty()) out += table_text(section.table);
    for (const auto& text : section.after) out += paragraph(text);
  }
  out.pop_back();
  return out;
}

}  // namespace emberline::io
