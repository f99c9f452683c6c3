#include "sim/base/diagnostic.hpp"

#include <algorithm>
#include <cstddef>
#include <numeric>

#include "sim/base/plain_text.hpp"

namespace emberline {

std::string to_text(const Diagnostic& diagnostic) {
  const auto& place = diagnostic.place;
  std::string text = place.file;
  if (place.line > 0) {
    text += ":" + std::to_string(place.line);
    if (place.column > 0) text += ":" + std::to_string(place.column);
  }
  // Both may be anybody's: names of files, what stands in a table.
  return one_line(text.empty() ? diagnostic.message : text + ": " + diagnostic.message);
}

namespace {

/// Edit distance (Levenshtein), where swapping two neighbours counts as one slip.
std::size_t distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> before(b.size() + 1);
  std::vector<std::size_t> last(b.size() + 1);
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(last.begin(), last.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t change = a[i - 1] == b[j - 1] ? 0 : 1;
      row[j] = std::min({last[j] + 1, row[j - 1] + 1, last[j - 1] + change});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
        row[j] = std::min(row[j], before[j - 2] + 1);
    }
    before.swap(last);
    last.swap(row);
  }
  return last[b.size()];
}

std::string small(std::string_view text) {
  std::string letters(text);
  for (char& c : letters)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return letters;
}

}  // namespace

std::string_view nearest(std::string_view word, const std::vector<std::string>& known) {
  std::string_view best;
  // A third of the word may be wrong; beyond that a guess misleads more than it helps.
  std::size_t best_distance = std::max<std::size_t>(2, word.size() / 3) + 1;
  const std::string letters = small(word);
  for (const auto& candidate : known) {
    const auto apart = distance(letters, small(candidate));
    if (apart < best_distance) {
      best_distance = apart;
      best = candidate;
    }
  }
  return best;
}

}  // namespace emberline
