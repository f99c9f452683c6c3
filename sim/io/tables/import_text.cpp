#include <algorithm>
#include <map>

#include "sim/base/plain_text.hpp"
#include "sim/io/tables/guess_point.hpp"
#include "sim/io/tables/import_table.hpp"
#include "sim/io/tables/table_yaml.hpp"

namespace emberline::io {
namespace {

constexpr std::size_t kLongestSaid = 300;  // of one line about a row
constexpr std::size_t kMostLines = 2000;   // of a list, more nobody reads

std::string rows_text(std::size_t count) { return std::to_string(count) + (count == 1 ? " row" : " rows"); }

/// The last line of a list that is cut.
std::string and_more(std::size_t lines) { return "and " + std::to_string(lines - kMostLines) + " more"; }

std::string said(const ImportedTable::Remark& remark) {
  return one_line((remark.name.empty() ? "" : "'" + remark.name + "': ") + remark.text, kLongestSaid);
}

std::string what_stands_there(const registers::Row& row) {
  return registers::carries_point(row) ? words_of(MappedPoint{row.point, std::nullopt, row.flag})
                                       : std::string(name_of(row));
}

std::string word_of(registers::Numbering numbering) {
  switch (numbering) {
    case registers::Numbering::zero_based:
      return "zero-based";
    case registers::Numbering::one_based:
      return "one-based";
    case registers::Numbering::reference:
      return "reference";
  }
  return "";
}

}  // namespace

std::string import_yaml(const ImportedTable& table, const std::string& first_line) {
  TableComments comments;
  comments.first_line = first_line;
  for (const auto& source : table.sources)
    comments.of_rows.push_back(source.guessed ? one_line("guessed from " + source.because, kLongestSaid)
                                              : std::string());
  if (!table.left_out.empty()) comments.at_end.emplace_back("Not placed:");
  const auto shown = std::min(table.left_out.size(), kMostLines);
  for (std::size_t i = 0; i < shown; ++i)
    comments.at_end.push_back("  row " + std::to_string(table.left_out[i].place.line) + ": " +
                              said(table.left_out[i]));
  if (shown < table.left_out.size()) comments.at_end.push_back("  " + and_more(table.left_out.size()));
  return table_yaml(table.parts, comments);
}

std::string import_summary(const ImportedTable& table, const std::string& csv_file) {
  std::string text = csv_file + ": " + rows_text(table.rows_placed) + " placed, " +
                     std::to_string(table.rows_guessed) + " of them guessed; " +
                     std::to_string(table.left_out.size()) + " not placed\n";
  if (table.numbering_assumed)
    text += "numbering: the mapping says nothing, taken as " + word_of(table.numbering) +
            (table.numbering == registers::Numbering::zero_based
                 ? "; where addresses count from 1, every one is off by one"
                 : ", which all addresses look like") +
            "\n";
  if (table.access_assumed > 0)
    text += "access: no column says it, so " + rows_text(table.access_assumed) + " that could be written " +
            (table.access_assumed == 1 ? "is" : "are") + " read-only\n";
  if (table.rows_guessed > 0) text += "guessed, look at each:\n";
  std::size_t guesses = 0;
  for (std::size_t i = 0; i < table.sources.size(); ++i) {
    const auto& source = table.sources[i];
    if (!source.guessed || ++guesses > kMostLines) continue;
    const auto& row = table.parts.rows[i];
    text += "  row " + std::to_string(source.csv_row) + ", " + registers::both_ways(row.address, row.table) +
            ": '" + one_line(source.name, kLongestSaid) + "' -> " + what_stands_there(row) + ", by " +
            one_line(source.because, kLongestSaid) + "\n";
  }
  if (guesses > kMostLines) text += "  " + and_more(guesses) + "\n";
  const auto list = [&text](const std::string& heading, const std::vector<ImportedTable::Remark>& remarks) {
    if (!remarks.empty()) text += heading + "\n";
    const auto shown = std::min(remarks.size(), kMostLines);
    for (std::size_t i = 0; i < shown; ++i)
      text += "  " + to_text({remarks[i].place, said(remarks[i])}) + "\n";
    if (shown < remarks.size()) text += "  " + and_more(remarks.size()) + "\n";
  };
  list("not placed:", table.left_out);
  list("taken otherwise than it stands there:", table.remarks);
  return text;
}

}  // namespace emberline::io
