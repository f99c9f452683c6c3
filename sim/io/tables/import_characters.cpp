#include "sim/io/tables/import_characters.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

#include "sim/io/tables/import_cells.hpp"

namespace emberline::io {

std::string lower(std::string_view text) {
  std::string small(text);
  for (auto& c : small)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return small;
}

std::string plain(std::string_view text) {
  struct Sign {
    std::string_view from;
    std::string_view to;
  };
  static constexpr Sign kSigns[] = {
      {"\xC2\xA0", " "},        // no-break space
      {"\xE2\x80\xAF", " "},    // narrow no-break space
      {"\xC3\x97", "x"},        // multiplication sign
      {"\xC3\xB7", "/"},        // division sign
      {"\xE2\x88\x92", "-"},    // minus
      {"\xE2\x80\x93", "-"},    // en dash
      {"\xE2\x80\x94", "-"},    // em dash
      {"\xE2\x80\xA6", ".."},   // ellipsis
      {"\xC2\xB0", "deg"},      // degree sign
      {"\xC2\xBA", "deg"},      // ordinal indicator, taken for one
      {"\xCE\xA9", "ohm"},      // Greek capital omega
      {"\xE2\x84\xA6", "ohm"},  // ohm sign
      {"\xC2\xB5", "u"},        // micro sign
      {"\xCE\xBC", "u"},        // Greek mu
  };
  const auto beyond_ascii = [](char c) { return static_cast<unsigned char>(c) >= 0x80U; };
  if (std::none_of(text.begin(), text.end(), beyond_ascii)) return std::string(text);
  std::string out;
  for (std::size_t i = 0; i < text.size();) {
    const auto rest = text.substr(i);
    const auto* sign = std::find_if(std::begin(kSigns), std::end(kSigns),
                                    [&](const Sign& s) { return rest.starts_with(s.from); });
    if (sign != std::end(kSigns)) {
      out += sign->to;
      i += sign->from.size();
    } else {
      out += text[i++];
    }
  }
  return out;
}

std::string without(std::string text, std::string_view characters) {
  std::erase_if(text, [&](char c) { return characters.find(c) != std::string_view::npos; });
  return text;
}

std::string_view bracketless(std::string_view text) {
  while (text.size() >= 2 &&
         ((text.front() == '[' && text.back() == ']') || (text.front() == '(' && text.back() == ')'))) {
    text.remove_prefix(1);
    text.remove_suffix(1);
    while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
    while (!text.empty() && text.back() == ' ') text.remove_suffix(1);
  }
  return text;
}

namespace {

/// "1,000", "-12,500": one to three digits that begin with no 0, a comma, three digits.
bool thousands_or_decimals(std::string_view digits) {
  if (digits.starts_with('-')) digits.remove_prefix(1);
  const auto comma = digits.find(',');
  return comma != std::string_view::npos && comma >= 1 && comma <= 3 && digits.size() == comma + 4 &&
         digits.front() != '0' && digits.find_first_not_of(kDigits, comma + 1) == std::string_view::npos;
}

}  // namespace

std::string why_two_numbers(std::string_view text) {
  for (std::size_t from = text.find_first_of(kDigits); from != std::string_view::npos;
       from = text.find_first_of(kDigits, from)) {
    const auto end =
        std::min({text.find_first_not_of("0123456789.,", from), text.find("..", from), text.size()});
    const auto number = text.substr(from, end - from);
    if (thousands_or_decimals(number)) {
      auto thousands = std::string(number);
      std::erase(thousands, ',');
      const auto comma = number.find(',');
      return "'" + std::string(number) + "' could be " + thousands + " or " +
             std::string(number.substr(0, comma)) + "." + std::string(number.substr(comma + 1)) +
             ": write one of these";
    }
    from = end;
  }
  return {};
}

std::optional<std::pair<double, std::string_view>> leading_number(std::string_view text) {
  if (text.starts_with('+')) text.remove_prefix(1);
  const auto end = std::min(text.find_first_not_of("0123456789.,-"), text.size());
  std::string digits(text.substr(0, end));
  // A comma is a decimal one where it is alone: "0,1". Groups of thousands are not guessed at.
  if (const auto comma = digits.find(','); comma != std::string::npos) {
    if (digits.find('.') != std::string::npos || digits.find(',', comma + 1) != std::string::npos ||
        thousands_or_decimals(digits))
      return std::nullopt;
    digits[comma] = '.';
  }
  const auto tail = text.substr(end);
  if (tail.size() > 1 && (tail[0] == 'e' || tail[0] == 'E')) {
    const auto stop =
        std::min(tail.find_first_not_of(kDigits, tail[1] == '-' || tail[1] == '+' ? 2 : 1), tail.size());
    if (is_digit(tail[stop - 1]))
      digits +=
          (tail[1] == '+' ? "e" + std::string(tail.substr(2, stop - 2)) : std::string(tail.substr(0, stop)));
  }
  double value = 0.0;
  const auto [stop, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  if (error != std::errc{} || !std::isfinite(value)) return std::nullopt;
  auto used = static_cast<std::size_t>(stop - digits.data());
  if (used > end && tail.size() > 1 && tail[1] == '+') ++used;
  return std::pair{value, text.substr(std::min(used, text.size()))};
}

std::optional<std::uint32_t> number_in(std::string_view digits, int base) {
  std::uint32_t number = 0;
  const auto* const end = digits.data() + digits.size();
  const auto [stop, error] = std::from_chars(digits.data(), end, number, base);
  if (error != std::errc{} || stop != end || digits.empty()) return std::nullopt;
  return number;
}

std::string trimmed(std::string_view text) {
  constexpr std::string_view kBlanks = " \t\n";
  constexpr std::string_view kNoBreak = "\xC2\xA0";
  for (bool again = true; again;) {
    again = false;
    if (!text.empty() && kBlanks.find(text.front()) != std::string_view::npos)
      text.remove_prefix(1), again = true;
    if (!text.empty() && kBlanks.find(text.back()) != std::string_view::npos)
      text.remove_suffix(1), again = true;
    if (text.starts_with(kNoBreak)) text.remove_prefix(kNoBreak.size()), again = true;
    if (text.ends_with(kNoBreak)) text.remove_suffix(kNoBreak.size()), again = true;
  }
  return std::string(text);
}

}  // namespace emberline::io
