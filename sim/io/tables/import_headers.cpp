#include "sim/io/tables/import_headers.hpp"

#include <tuple>
#include <utility>

#include "sim/base/listed.hpp"
#include "sim/io/tables/import_cells.hpp"
#include "sim/io/tables/import_characters.hpp"

namespace emberline::io {
namespace {

// Common practice, no source. As HeaderWords::text() makes them, the likeliest first.
constexpr std::string_view kAddresses =
    " address addr registeraddress modbusaddress regaddress registeraddr startaddress register reg regno "
    "registerno registernumber registernr modbusregister reference ";
/// What may count rows, or something else, as well. `dec` stands before the others where there is a `hex`.
constexpr std::string_view kNumbers = " offset bothdec hex index dec no number nr ";
/// Addresses of something else, and numbers of registers.
constexpr std::string_view kOtherAddresses =
    " slave unit device station node server ip mac bit count length number of end last ";

bool has_word(std::string_view words, std::string_view word) {
  return !word.empty() && words.find(" " + std::string(word) + " ") != std::string_view::npos;
}

/// Small letters and digits, parted at punctuation and before a capital behind a small letter.
std::vector<std::string> parted(std::string_view header) {
  std::vector<std::string> words;
  bool inside = false;
  bool small_before = false;
  for (const char c : header) {
    const bool capital = c >= 'A' && c <= 'Z';
    const bool small = (c >= 'a' && c <= 'z') || static_cast<unsigned char>(c) >= 0x80U;
    if (capital || small || is_digit(c)) {
      if (!inside || (capital && small_before)) words.emplace_back();
      words.back() += c;
    }
    inside = capital || small || is_digit(c);
    small_before = small;
  }
  for (auto& word : words) word = lower(word);
  return words;
}

/// "hexmask" and "addrhex": written as one.
bool take_hexadecimal(std::string& word) {
  constexpr std::string_view kGlued = " mask bitmask address addr register reg ";
  constexpr std::string_view kHex = "hex";
  const auto size = word.size();
  if (size <= kHex.size()) return false;
  if (word.starts_with(kHex) && has_word(kGlued, std::string_view(word).substr(kHex.size())))
    word.erase(0, kHex.size());
  else if (word.ends_with(kHex) && has_word(kGlued, std::string_view(word).substr(0, size - kHex.size())))
    word.resize(size - kHex.size());
  return word.size() < size;
}

/// 1 or 2 where a header beside the usual ones ends in address or register: "Protocol address", "Holding
/// register no."; else 0.
std::size_t says_address(std::vector<std::string> words) {
  if (words.size() > 1 && has_word(" no nr number ", words.back())) words.pop_back();
  if (words.empty()) return 0;
  for (const auto& word : words)
    if (has_word(kOtherAddresses, word)) return 0;
  if (has_word(" address addresses addr ", words.back())) return 1;
  return has_word(" register reg ", words.back()) ? 2 : 0;
}

/// How likely a header is the one of addresses, the least being the likeliest.
struct Rank {
  std::size_t kind = 0;  ///< 0: the usual words; 1, 2: others that say address or register; 3: numbers
  std::size_t at = 0;
  bool unwanted_numbers = false;

  friend bool operator==(const Rank&, const Rank&) = default;
  friend bool operator<(const Rank& a, const Rank& b) {
    return std::tie(a.kind, a.at, a.unwanted_numbers) < std::tie(b.kind, b.at, b.unwanted_numbers);
  }
};

class Ranking {
 public:
  Ranking(const std::vector<std::string>& header, const TableMapping& mapping) : mapping_(mapping) {
    for (const auto& cell : header) {
      const auto said = header_words(cell);
      both_ = both_ || (said.words.empty() && said.hexadecimal);
    }
  }

  std::optional<Rank> of(const std::string& header) const {
    const auto said = header_words(header);
    const bool wants_hexadecimal = mapping_.addresses == AddressHabit::hexadecimal;
    Rank rank;
    rank.unwanted_numbers = wants_hexadecimal ? said.decimal : said.hexadecimal;
    const auto found = [&rank](std::string_view words, const std::string& word, std::size_t kind) {
      rank.kind = kind;
      rank.at = word.empty() ? std::string_view::npos : words.find(" " + word + " ");
      return rank.at != std::string_view::npos;
    };
    const auto text = said.text();
    if (found(kAddresses, text, 0)) return references_last(rank, said);
    if (const auto kind = says_address(said.words); kind > 0)
      return references_last(Rank{kind, 0, rank.unwanted_numbers}, said);
    if (found(kNumbers, text.empty() ? number_word(said) : text, 3)) return references_last(rank, said);
    return std::nullopt;
  }

 private:
  /// "Decimal" alone may be a number of decimals.
  std::string number_word(const HeaderWords& said) const {
    if (said.hexadecimal) return "hex";
    if (!said.decimal) return {};
    return both_ && mapping_.addresses != AddressHabit::hexadecimal ? "bothdec" : "dec";
  }

  /// A reference number such as 40001 is never written in hexadecimal.
  Rank references_last(Rank rank, const HeaderWords& said) const {
    constexpr std::size_t kLast = 4;
    if (mapping_.numbering == registers::Numbering::reference && said.hexadecimal &&
        mapping_.addresses != AddressHabit::hexadecimal)
      rank.kind += kLast;
    return rank;
  }

  const TableMapping& mapping_;
  bool both_ = false;  ///< some column is called just "hex"
};

}  // namespace

std::string HeaderWords::text() const {
  std::string text;
  for (const auto& word : words) text += word;
  return text;
}

HeaderWords header_words(std::string_view header) {
  HeaderWords said;
  for (auto& word : parted(header)) {
    const bool hexadecimal = word == "hex" || word == "hexadecimal";
    const bool decimal = word == "dec" || word == "decimal";
    said.decimal = said.decimal || decimal;
    said.hexadecimal = said.hexadecimal || hexadecimal || take_hexadecimal(word);
    if (!hexadecimal && !decimal) said.words.push_back(std::move(word));
  }
  if (said.hexadecimal && said.decimal) said.hexadecimal = said.decimal = false;
  return said;
}

Result<std::optional<std::size_t>, std::string> find_address_column(const std::vector<std::string>& header,
                                                                    const TableMapping& mapping,
                                                                    const std::vector<bool>& taken) {
  const Ranking ranking(header, mapping);
  std::optional<std::size_t> best;
  std::optional<Rank> best_rank;
  std::vector<std::string> alike;
  for (std::size_t i = 0; i < header.size(); ++i) {
    if (taken[i]) continue;
    const auto rank = ranking.of(header[i]);
    if (!rank || (best_rank && *best_rank < *rank)) continue;
    if (best_rank != rank) {
      alike.clear();
      best = i;
      best_rank = rank;
    }
    alike.push_back("'" + trimmed(header[i]) + "'");
  }
  const bool words_of_theirs = best_rank && (best_rank->kind == 1 || best_rank->kind == 2);
  if (words_of_theirs && alike.size() > 1)
    return Failure{"addresses could stand under " + listed(alike) +
                   ": say which in the mapping (columns: { address: ... })"};
  return best;
}

}  // namespace emberline::io
