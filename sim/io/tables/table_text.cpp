#include <algorithm>

#include "sim/io/tables/table_formats.hpp"
#include "sim/io/tables/table_notes.hpp"

namespace emberline::io {
namespace {

std::string aligned(const std::vector<std::vector<std::string>>& lines) {
  std::vector<std::size_t> widths;
  for (const auto& line : lines) {
    widths.resize(std::max(widths.size(), line.size()));
    for (std::size_t i = 0; i < line.size(); ++i) widths[i] = std::max(widths[i], line[i].size());
  }
  std::string text;
  for (const auto& line : lines) {
    std::string out = " ";
    for (std::size_t i = 0; i < line.size(); ++i) {
      out += " " + line[i];
      if (i + 1 < line.size()) out += std::string(widths[i] - line[i].size() + 1, ' ');
    }
    while (!out.empty() && out.back() == ' ') out.pop_back();
    text += out + "\n";
  }
  return text;
}

std::string listing(const registers::RegisterTable& table) {
  std::string text = table.title() + "\n";
  for (const auto kind : listing_order()) {
    std::vector<std::vector<std::string>> lines{listed_heads()};
    for (const auto& row : table.rows())
      if (row.table == kind) lines.push_back(listed_cells(row));
    if (lines.size() > 1) text += "\n" + std::string(heading_of(kind)) + "\n" + aligned(lines);
  }
  return text;
}

}  // namespace

std::string registers_text(const RegisterList& list) {
  std::string text;
  for (const auto& [table, users] : list.tables) {
    std::string names;
    for (const auto& user : users) names += (names.empty() ? "" : ", ") + user.name;
    text += (text.empty() ? "" : "\n") + names + (names.empty() ? "" : ": ") + listing(*table);
  }
  return text;
}

}  // namespace emberline::io
