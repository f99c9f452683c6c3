#include "sim/io/tables/csv_reader.hpp"

#include <algorithm>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <new>
#include <utility>

#include <csv.h>

#include "sim/base/utf8.hpp"
#include "sim/io/files/source_text.hpp"

namespace emberline::io {
namespace {

constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";

/// The library's parser with what it has found so far.
class Parser {
 public:
  explicit Parser(char delimiter) {
    // Every line is a row, so that rows count as in a spreadsheet; quotes have to be right.
    if (csv_init(&parser_, CSV_STRICT | CSV_STRICT_FINI | CSV_REPALL_NL) != 0) throw std::bad_alloc();
    csv_set_delim(&parser_, static_cast<unsigned char>(delimiter));
  }
  ~Parser() { csv_free(&parser_); }
  Parser(const Parser&) = delete;
  Parser& operator=(const Parser&) = delete;

  /// False if it went wrong.
  bool take(std::string_view text) {
    return csv_parse(&parser_, text.data(), text.size(), on_cell, on_row, this) == text.size();
  }
  bool finish() { return csv_fini(&parser_, on_cell, on_row, this) == 0; }
  [[nodiscard]] int error() { return csv_error(&parser_); }

  [[nodiscard]] int row() const { return static_cast<int>(rows_.size()) + 1; }
  [[nodiscard]] int column() const { return static_cast<int>(cells_.size()) + 1; }
  [[nodiscard]] bool too_many_columns() const { return too_many_columns_; }
  [[nodiscard]] std::vector<std::vector<std::string>> rows() && { return std::move(rows_); }

 private:
  static void on_cell(void* text, size_t size, void* self) {
    auto& parser = *static_cast<Parser*>(self);
    if (parser.cells_.size() == kMostCsvColumns) {
      parser.too_many_columns_ = true;
    } else {
      parser.cells_.emplace_back(static_cast<const char*>(text), size);
    }
  }
  static void on_row(int, void* self) {
    auto& parser = *static_cast<Parser*>(self);
    parser.rows_.push_back(std::exchange(parser.cells_, {}));
  }

  csv_parser parser_{};
  std::vector<std::string> cells_;
  std::vector<std::vector<std::string>> rows_;
  bool too_many_columns_ = false;
};

/// CR LF and CR as LF.
std::string with_plain_lines(const std::string& text) {
  std::string plain;
  plain.reserve(text.size());
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '\r')
      plain += text[i];
    else if (i + 1 == text.size() || text[i + 1] != '\n')
      plain += '\n';
  }
  return plain;
}

/// The delimiter that stands most often, outside quotes, in the row behind `skip_rows`; comma where none
/// does.
char likely_delimiter(std::string_view text, int skip_rows) {
  constexpr std::string_view kDelimiters = ",;\t";
  std::size_t counts[3] = {0, 0, 0};
  int row = 0;
  bool quoted = false;
  for (const char c : text) {
    if (c == '"') quoted = !quoted;
    if (quoted) continue;
    if (c == '\n' && ++row > skip_rows) break;
    if (const auto index = kDelimiters.find(c); row == skip_rows && index != std::string_view::npos)
      ++counts[index];
  }
  return kDelimiters[static_cast<std::size_t>(std::max_element(counts, counts + 3) - counts)];
}

/// What stands where the text stops being UTF-8.
std::string why_not_text(std::string_view text, std::size_t at) {
  const auto byte = static_cast<unsigned char>(text[at]);
  const auto zeros = static_cast<std::size_t>(std::count(text.begin(), text.end(), '\0'));
  // Every second byte of plain words in UTF-16 is zero.
  if (text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF") || zeros > text.size() / 3)
    return "is not UTF-8 text but, as it looks, UTF-16; expected a table saved as CSV in UTF-8";
  if (byte == 0) return "a zero byte, which is in no text; expected a table saved as CSV in UTF-8";
  char hex[8];
  (void)std::snprintf(hex, sizeof hex, "0x%02X", static_cast<unsigned>(byte));
  return "byte " + std::string(hex) +
         " is not UTF-8 text, perhaps Latin-1; expected a table saved as CSV in UTF-8";
}

}  // namespace

Result<CsvTable, Diagnostic> parse_csv(const std::string& file, std::string text,
                                       std::optional<char> delimiter, int skip_rows) {
  if (text.starts_with(kByteOrderMark)) text.erase(0, kByteOrderMark.size());
  text = with_plain_lines(text);
  const char parted_by = delimiter.value_or(likely_delimiter(text, skip_rows));
  Parser parser(parted_by);
  const auto fail = [&](std::string what) {
    return Failure{Diagnostic{{file, parser.row(), parser.column()}, std::move(what)}};
  };
  if (const auto bad = first_not_text(text)) {
    (void)parser.take(std::string_view(text).substr(0, *bad));
    return fail(why_not_text(text, *bad));
  }
  // A table has an end by its rows long before one by its bytes.
  if (static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n')) > 4 * kMostCsvRows)
    return Failure{Diagnostic{{file, 0, 0}, "has more than 100,000 rows"}};
  const bool whole = parser.take(text);
  if (!whole || !parser.finish()) {
    if (parser.error() == CSV_ENOMEM || parser.error() == CSV_ETOOBIG) throw std::bad_alloc();
    return fail(whole ? "a quoted cell is never closed, expected a quote at its end"
                      : "a quote inside a cell, expected two in a row (\"\") in a quoted cell");
  }
  if (parser.too_many_columns())
    return Failure{Diagnostic{{file, 0, 0}, "has a row of more than 1,000 cells, expected a register table"}};
  CsvTable table{file, parted_by, std::move(parser).rows()};
  if (table.rows.size() > kMostCsvRows)
    return Failure{Diagnostic{{file, 0, 0}, "has more than 100,000 rows"}};
  return table;
}

Result<CsvTable, Diagnostic> read_csv(const std::string& file, std::optional<char> delimiter, int skip_rows) {
  const auto refuse = [&](std::string why) {
    return Failure{Diagnostic{{file.empty() ? "''" : file, 0, 0}, std::move(why)}};
  };
  if (auto why = why_not_a_file(file, kLargestCsv, "is larger than 8 MB, expected a register table as CSV");
      !why.empty())
    return refuse(std::move(why));
  std::ifstream stream(file, std::ios::binary);
  std::string text{std::istreambuf_iterator<char>(stream), {}};
  if (!stream.is_open() || stream.bad()) return refuse("cannot be read");
  return parse_csv(file, std::move(text), delimiter, skip_rows);
}

}  // namespace emberline::io
