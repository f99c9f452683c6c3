#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/rehearsal/verdict.hpp"

namespace emberline::io {

// The parts of the HTML report. Each gives elements for the inside of a section, with its heading; nothing
// when there is nothing to show. All text of users is escaped.

/// What the page looks like on a screen, in the dark and on paper.
[[nodiscard]] std::string_view html_style();
/// A disc with a tick, a square with a cross, a triangle with a question mark, and the word beside it.
[[nodiscard]] std::string html_result(rehearsal::Outcome::Result result);
/// The expectations; failures with the values around.
[[nodiscard]] std::string html_expectations(const rehearsal::Verdict& verdict);
/// Signals over time, and on them what was done and where expectations failed.
[[nodiscard]] std::string html_plots(const rehearsal::Verdict& verdict);
/// Writes, polling and silences.
[[nodiscard]] std::string html_master(const rehearsal::Verdict& verdict);
[[nodiscard]] std::string html_traffic(const rehearsal::Verdict& verdict);
[[nodiscard]] std::string html_closest_calls(const rehearsal::Verdict& verdict);
[[nodiscard]] std::string html_journal(const rehearsal::Verdict& verdict);
/// Files, version, seed, clock and the command that does it again.
[[nodiscard]] std::string html_origin(const rehearsal::Verdict& verdict);

/// What a cell with a number begins with; the text of no user does.
inline constexpr char kNumberCell = '\x01';
/// A cell, or the head of a column, that stands at the right.
[[nodiscard]] inline std::string number_cell(std::string_view text) {
  return kNumberCell + std::string(text);
}

/// A table being written.
class HtmlTable {
 public:
  /// `kind` is a class of the style; empty: none.
  HtmlTable(std::string_view kind, const std::vector<std::string>& heads);
  /// A row of cells that are HTML already.
  void row(const std::vector<std::string>& cells, std::string_view kind = {});
  /// A row of one cell over the whole width.
  void wide(const std::string& cell, std::string_view kind);
  /// A row of one cell from the second column on.
  void beside(const std::string& cell, std::string_view kind);
  [[nodiscard]] std::string finished() && { return std::move(text_) + "</tbody></table>\n"; }

 private:
  std::size_t columns_;
  std::string text_;
};

/// <NAME class="KIND">TEXT</NAME>, the text escaped.
[[nodiscard]] std::string html_element(std::string_view name, std::string_view text,
                                       std::string_view kind = {});
/// "1 request", "2 requests".
[[nodiscard]] std::string counted(std::uint64_t count, std::string_view what);

}  // namespace emberline::io
