#include <algorithm>
#include <bit>

#include "sim/io/tables/import_cells.hpp"
#include "sim/io/tables/import_characters.hpp"

namespace emberline::io {
namespace {

/// Up to one piece more than are looked at.
std::vector<std::string> pieces_of(const std::string& text, std::string_view separators) {
  std::vector<std::string> pieces;
  std::size_t from = 0;
  while (from <= text.size() && pieces.size() <= kMostLabels) {
    const auto at = std::min(text.find_first_of(separators, from), text.size());
    auto piece = trimmed(std::string_view(text).substr(from, at - from));
    if (!piece.empty()) pieces.push_back(std::move(piece));
    from = at + 1;
  }
  return pieces;
}

/// "3 = Running", "bit 3: Overload", "B3 - Overload", "0x08: Overload".
std::optional<Labelled> number_first(const std::string& piece) {
  const auto small = lower(piece);
  std::size_t at = 0;
  Labelled entry;
  for (const std::string_view word : {"bit", "b"})
    if (small.starts_with(word) &&
        small.find_first_of(kDigits) == small.find_first_not_of(" _.", word.size()) &&
        small.find_first_of(kDigits) != std::string::npos) {
      at = small.find_first_of(kDigits);
      entry.is_bit = true;
      break;
    }
  const bool hexadecimal = small.compare(at, 2, "0x") == 0;
  const auto from = hexadecimal ? at + 2 : at;
  const auto end =
      std::min(small.find_first_not_of(hexadecimal ? "0123456789abcdef" : kDigits, from), small.size());
  const auto number = number_in(std::string_view(small).substr(from, end - from), hexadecimal ? 16 : 10);
  if (!number || *number > 0xFFFF) return std::nullopt;
  const auto label = small.find_first_not_of(" =:-)>.", end);
  if (label == std::string::npos || label == end) return std::nullopt;
  entry.number = static_cast<int>(*number);
  entry.label = trimmed(std::string_view(piece).substr(label));
  entry.hexadecimal = hexadecimal;
  return entry;
}

/// "running=10", "Running (10)".
std::optional<Labelled> label_first(const std::string& piece) {
  auto text = piece;
  if (text.ends_with(')')) text.pop_back();
  const auto at = text.find_last_of("=:(");
  if (at == std::string::npos || at == 0) return std::nullopt;
  const auto written = trimmed(std::string_view(text).substr(at + 1));
  const auto number = whole_number_of(written);
  if (!number || *number > 0xFFFF) return std::nullopt;
  return Labelled{static_cast<int>(*number), trimmed(std::string_view(text).substr(0, at)), false,
                  lower(written).starts_with("0x")};
}

}  // namespace

bool hexadecimal_to_bits(std::vector<Labelled>& entries) {
  const auto fits = [](const Labelled& entry) {
    return !entry.hexadecimal || entry.number == 0 ||
           std::has_single_bit(static_cast<unsigned>(entry.number));
  };
  if (!std::all_of(entries.begin(), entries.end(), fits)) return false;
  for (auto& entry : entries) {
    if (!entry.hexadecimal || entry.number == 0) continue;
    entry.number = std::countr_zero(static_cast<unsigned>(entry.number));
    entry.hexadecimal = false;
    entry.is_bit = true;
  }
  return true;
}

std::vector<Labelled> labelled_cell(std::string_view text, std::vector<std::string>& unread) {
  const auto cell = trimmed(plain(text));
  auto pieces = pieces_of(cell, ";\n|");
  const bool commas = pieces.size() == 1;
  if (commas) pieces = pieces_of(cell, ",");
  // "running=10 tripped=7", where blanks part the entries.
  if (pieces.size() == 1 && std::count(cell.begin(), cell.end(), '=') > 1 && !is_digit(cell.front()))
    pieces = pieces_of(cell, " ");
  const bool more = pieces.size() > kMostLabels;
  if (more) pieces.pop_back();
  std::vector<Labelled> entries;
  for (const auto& piece : pieces) {
    if (const auto first = number_first(piece)) {
      entries.push_back(*first);
    } else if (const auto last = label_first(piece)) {
      entries.push_back(*last);
    } else if (commas && !entries.empty() && piece.find_first_of("=:") == std::string::npos) {
      entries.back().label += ", " + piece;  // a comma inside a label
    } else {
      unread.push_back("'" + piece + "' is no number up to 65535 with its meaning");
    }
  }
  if (more)
    unread.push_back("has more entries than " + std::to_string(kMostLabels) +
                     ", and only these are looked at");
  // Among bits, a mask is one too; alone, what the list is of tells.
  const auto is_bit = [](const Labelled& entry) { return entry.is_bit; };
  if (std::any_of(entries.begin(), entries.end(), is_bit)) hexadecimal_to_bits(entries);
  return entries;
}

}  // namespace emberline::io
