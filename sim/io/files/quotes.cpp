#include "sim/io/files/quotes.hpp"

namespace emberline::io {
namespace {

/// Whether what stands before `at` on its line lets a quote there begin a value or a key.
bool begins_value(std::string_view text, std::size_t at) {
  std::size_t before = at;
  while (before > 0 && (text[before - 1] == ' ' || text[before - 1] == '\t')) --before;
  if (before == 0 || text[before - 1] == '\n') return true;
  const char last = text[before - 1];
  if (last == '{' || last == '[' || last == ',') return true;
  return before < at && (last == ':' || last == '-' || last == '?');
}

bool begins_comment(std::string_view text, std::size_t at) {
  return text[at] == '#' && (at == 0 || text[at - 1] == ' ' || text[at - 1] == '\t' || text[at - 1] == '\n');
}

}  // namespace

std::optional<std::size_t> closing_quote(std::string_view text, std::size_t open) {
  const char quote = text[open];
  for (std::size_t i = open + 1; i < text.size(); ++i) {
    if (quote == '"' && text[i] == '\\') {
      ++i;
    } else if (text[i] == quote) {
      if (quote == '"' || i + 1 >= text.size() || text[i + 1] != '\'') return i;
      ++i;
    }
  }
  return std::nullopt;
}

std::optional<std::size_t> quote_left_open(std::string_view text) {
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (begins_comment(text, i)) {
      i = text.find('\n', i);
      if (i == std::string_view::npos) return std::nullopt;
    } else if ((text[i] == '"' || text[i] == '\'') && begins_value(text, i)) {
      const auto close = closing_quote(text, i);
      if (!close || *close > text.find('\n', i)) return i;
      i = *close;
    }
  }
  return std::nullopt;
}

}  // namespace emberline::io
