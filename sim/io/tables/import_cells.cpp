#include "sim/io/tables/import_cells.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

namespace emberline::io {
namespace {

constexpr std::string_view kDigits = "0123456789";

bool is_digit(char c) { return c >= '0' && c <= '9'; }

std::string lower(std::string_view text) {
  std::string small(text);
  for (auto& c : small)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return small;
}

/// Signs beyond ASCII that stand for one of it.
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

/// A number at the front, and what is behind it.
std::optional<std::pair<double, std::string_view>> leading_number(std::string_view text) {
  if (text.starts_with('+')) text.remove_prefix(1);
  const auto end = std::min(text.find_first_not_of("0123456789.,-"), text.size());
  std::string digits(text.substr(0, end));
  // A comma is a decimal one where it is alone: "0,1". Groups of thousands are not guessed at.
  if (const auto comma = digits.find(','); comma != std::string::npos) {
    if (digits.find('.') != std::string::npos || digits.find(',', comma + 1) != std::string::npos)
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

struct KnownUnit {
  std::string_view word;
  Dimension dimension;
  double factor;
};
/// Exactly so first; then with small letters, where no prefix could be mistaken.
constexpr KnownUnit kUnits[] = {
    {"%", Dimension::ratio, 0.01},
    {"V", Dimension::voltage, 1},
    {"mV", Dimension::voltage, 1e-3},
    {"kV", Dimension::voltage, 1e3},
    {"A", Dimension::current, 1},
    {"mA", Dimension::current, 1e-3},
    {"kA", Dimension::current, 1e3},
    {"W", Dimension::power, 1},
    {"mW", Dimension::power, 1e-3},
    {"kW", Dimension::power, 1e3},
    {"MW", Dimension::power, 1e6},
    {"VA", Dimension::apparent_power, 1},
    {"kVA", Dimension::apparent_power, 1e3},
    {"MVA", Dimension::apparent_power, 1e6},
    {"ohm", Dimension::resistance, 1},
    {"mohm", Dimension::resistance, 1e-3},
    {"kohm", Dimension::resistance, 1e3},
    {"Mohm", Dimension::resistance, 1e6},
    {"uohm", Dimension::resistance, 1e-6},
    {"degC", Dimension::temperature, 1},
    {"s", Dimension::time, 1},
    {"ms", Dimension::time, 1e-3},
    {"us", Dimension::time, 1e-6},
    {"min", Dimension::time, 60},
    {"h", Dimension::time, 3600},
    {"d", Dimension::time, 86400},
    {"Hz", Dimension::frequency, 1},
    {"mHz", Dimension::frequency, 1e-3},
    {"kHz", Dimension::frequency, 1e3},
    {"deg", Dimension::angle, 1},
    {"kWh", Dimension::energy, 3.6e6},
    {"Wh", Dimension::energy, 3.6e3},
    {"MWh", Dimension::energy, 3.6e9},
    {"J", Dimension::energy, 1},
    {"kJ", Dimension::energy, 1e3},
    {"MJ", Dimension::energy, 1e6},
};
/// Other ways of writing one, in small letters and without blanks, points and underscores.
constexpr std::pair<std::string_view, std::string_view> kUnitWords[] = {
    {"percent", "%"},
    {"pct", "%"},
    {"volt", "V"},
    {"volts", "V"},
    {"vrms", "V"},
    {"vac", "V"},
    {"vdc", "V"},
    {"v", "V"},
    {"kv", "kV"},
    {"amp", "A"},
    {"amps", "A"},
    {"ampere", "A"},
    {"amperes", "A"},
    {"arms", "A"},
    {"aac", "A"},
    {"adc", "A"},
    {"a", "A"},
    {"ka", "kA"},
    {"watt", "W"},
    {"watts", "W"},
    {"w", "W"},
    {"kilowatt", "kW"},
    {"kw", "kW"},
    {"va", "VA"},
    {"kva", "kVA"},
    {"ohm", "ohm"},
    {"ohms", "ohm"},
    {"kohm", "kohm"},
    {"milliohm", "mohm"},
    {"degc", "degC"},
    {"c", "degC"},
    {"celsius", "degC"},
    {"degcelsius", "degC"},
    {"degreesc", "degC"},
    {"s", "s"},
    {"sec", "s"},
    {"secs", "s"},
    {"second", "s"},
    {"seconds", "s"},
    {"msec", "ms"},
    {"milliseconds", "ms"},
    {"mins", "min"},
    {"minute", "min"},
    {"minutes", "min"},
    {"hr", "h"},
    {"hrs", "h"},
    {"hour", "h"},
    {"hours", "h"},
    {"days", "d"},
    {"hz", "Hz"},
    {"hertz", "Hz"},
    {"degree", "deg"},
    {"degrees", "deg"},
    {"degel", "deg"},
    {"kwh", "kWh"},
    {"wh", "Wh"},
    {"joule", "J"},
    {"kj", "kJ"},
};

const KnownUnit* known_unit(std::string_view text) {
  const auto find = [](std::string_view word) -> const KnownUnit* {
    const auto* at =
        std::find_if(std::begin(kUnits), std::end(kUnits), [&](const auto& u) { return u.word == word; });
    return at == std::end(kUnits) ? nullptr : at;
  };
  if (const auto* exact = find(text)) return exact;
  const auto small = lower(without(std::string(text), " ._"));
  for (const auto& [word, ours] : kUnitWords)
    if (word == small) return find(ours);
  return find(without(std::string(text), " ._"));
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

/// A factor at the front: "x 0.1 A", "1/10 A", "*10". Leaves the rest in `text`; nothing if there is none.
std::optional<double> take_factor(std::string_view& text) {
  auto rest = text;
  const auto skip_blanks = [&rest] {
    while (!rest.empty() && rest.front() == ' ') rest.remove_prefix(1);
  };
  const bool divides = rest.starts_with('/') || rest.starts_with(':');
  if (divides || rest.starts_with('x') || rest.starts_with('X') || rest.starts_with('*'))
    rest.remove_prefix(1);
  skip_blanks();
  auto number = leading_number(rest);
  if (!number) return std::nullopt;
  double value = number->first;
  rest = number->second;
  if (value == 10.0 && rest.starts_with('^')) {
    const auto power = leading_number(rest.substr(1));
    if (!power || std::abs(power->first) > 12 || power->first != std::round(power->first))
      return std::nullopt;
    value = power->first < 0 ? 1.0 / std::pow(10.0, -power->first) : std::pow(10.0, power->first);
    rest = power->second;
  }
  skip_blanks();
  if (!divides && (rest.starts_with('/') || rest.starts_with(':'))) {
    auto below = rest.substr(1);
    while (!below.empty() && below.front() == ' ') below.remove_prefix(1);
    if (const auto divisor = leading_number(below); divisor && divisor->first != 0.0) {
      value /= divisor->first;
      rest = divisor->second;
      skip_blanks();
    }
  }
  if (divides && value == 0.0) return std::nullopt;
  text = rest;
  if (text.starts_with('*') || text.starts_with("x ") || text.starts_with("X ")) text.remove_prefix(1);
  while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
  return divides ? 1.0 / value : value;
}

/// Where a range is parted: behind its lower end.
std::optional<std::pair<std::string_view, std::string_view>> parted(std::string_view text) {
  for (const std::string_view separator : {"...", "..", " to ", " bis ", "~"}) {
    const auto at = text.find(separator);
    if (at != std::string_view::npos && at > 0)
      return std::pair{text.substr(0, at), text.substr(at + separator.size())};
  }
  for (std::size_t i = 1; i + 1 < text.size(); ++i) {
    const char before = text[i - 1];
    if (text[i] == '-' && before != 'e' && before != 'E' && before != '-')
      return std::pair{text.substr(0, i), text.substr(i + 1)};
    if ((text[i] == ';' || text[i] == '/') && is_digit(before))
      return std::pair{text.substr(0, i), text.substr(i + 1)};
  }
  return std::nullopt;
}

std::optional<std::uint32_t> number_in(std::string_view digits, int base) {
  std::uint32_t number = 0;
  const auto* const end = digits.data() + digits.size();
  const auto [stop, error] = std::from_chars(digits.data(), end, number, base);
  if (error != std::errc{} || stop != end || digits.empty()) return std::nullopt;
  return number;
}

/// Digits of a hexadecimal number behind or in front of its mark; nothing without one.
std::optional<std::string> marked_hexadecimal(const std::string& small) {
  for (const std::string_view mark : {"0x", "16#", "&h", "$", "#"})
    if (small.starts_with(mark)) return small.substr(mark.size());
  if (small.ends_with('h') && small.size() > 1) return small.substr(0, small.size() - 1);
  return std::nullopt;
}

/// One number of an address, as parse_address reads it.
Result<std::string, std::string> one_address(std::string_view text, AddressHabit habit) {
  const auto fail = [&] {
    const std::string expected = habit == AddressHabit::decimal ? "a decimal address"
                                 : habit == AddressHabit::hexadecimal
                                     ? "a hexadecimal address"
                                     : "an address, decimal or as 0x0030 or 0030h";
    return Failure{"expected " + expected + ", found '" + std::string(text) + "'"};
  };
  auto small = lower(without(std::string(text), " '_"));
  if (small.size() > 2 && small[1] == 'x' && (small[0] == '1' || small[0] == '3' || small[0] == '4'))
    small.erase(1, 1);  // "4x0001", a reference number
  const auto marked = marked_hexadecimal(small);
  if (habit != AddressHabit::decimal && (marked || habit == AddressHabit::hexadecimal)) {
    const auto digits = marked.value_or(small);
    if (!number_in(digits, 16)) return fail();
    return "0x" + digits;
  }
  if (small.empty() || small.find_first_not_of(kDigits) != std::string::npos) return fail();
  return small;
}

}  // namespace

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

std::optional<double> plain_number(std::string_view text) {
  const auto cell = trimmed(plain(text));
  if (const auto whole = whole_number_of(cell)) return *whole;
  const auto number = leading_number(cell);
  if (!number || !number->second.empty()) return std::nullopt;
  return number->first;
}

std::optional<std::uint32_t> whole_number_of(std::string_view text) {
  const auto small = lower(trimmed(text));
  if (small.starts_with("0b") || small.starts_with("2#")) return number_in(without(small.substr(2), " _"), 2);
  if (const auto digits = marked_hexadecimal(small)) return number_in(*digits, 16);
  return number_in(small, 10);
}

Result<AddressCell, std::string> address_cell(std::string_view text, AddressHabit habit, bool bit_allowed) {
  auto whole = trimmed(plain(text));
  AddressCell cell;
  std::string last;
  for (const std::string_view separator : {"..", "-", "/"}) {
    const auto at = whole.find(separator);
    if (at == std::string::npos || at == 0) continue;
    last = trimmed(std::string_view(whole).substr(at + separator.size()));
    whole = trimmed(std::string_view(whole).substr(0, at));
    break;
  }
  if (const auto dot = whole.find_first_of(".:"); dot != std::string::npos && bit_allowed && last.empty()) {
    const auto bit = number_in(std::string_view(whole).substr(dot + 1), 10);
    if (!bit || *bit > 15)
      return Failure{"expected a bit from 0 to 15 behind the address, found '" + std::string(text) + "'"};
    cell.bit = static_cast<int>(*bit);
    whole.resize(dot);
  }
  const auto first = one_address(whole, habit);
  if (!first) return Failure{first.error()};
  cell.text = *first;
  if (last.empty()) return cell;
  const auto end = one_address(last, habit);
  const auto from = whole_number_of(*first);
  const auto to = end ? whole_number_of(*end) : std::nullopt;
  if (!from || !to || *to < *from || *to - *from > 999)
    return Failure{"expected an address or a first and a last one, found '" + std::string(text) + "'"};
  cell.registers = static_cast<int>(*to - *from) + 1;
  return cell;
}

Result<std::optional<UnitCell>, std::string> unit_cell(std::string_view text) {
  const auto cell = trimmed(plain(text));
  auto rest = bracketless(cell);
  const auto small = lower(rest);
  for (const std::string_view none : {"", "-", "--", "---", "1", "n/a", "na", "none", "./."})
    if (small == none) return std::optional<UnitCell>{};
  for (const std::string_view offset : {"degf", "f", "fahrenheit", "deg f"})
    if (small == offset)
      return Failure{"the unit '" + std::string(text) +
                     "' has another zero than degC, which a scale cannot carry"};
  double factor = take_factor(rest).value_or(1.0);
  std::string word(rest);
  if (known_unit(word) == nullptr) {  // "A x 10", "A/10"
    const auto at = word.find_first_of(" x*/");
    if (at != std::string::npos && at > 0) {
      std::string_view behind = std::string_view(word).substr(at);
      while (!behind.empty() && behind.front() == ' ') behind.remove_prefix(1);
      if (const auto more = take_factor(behind); more && behind.empty()) {
        factor *= *more;
        word = trimmed(std::string_view(word).substr(0, at));
      }
    }
  }
  if (word.empty() && factor > 0.0) return std::optional(UnitCell{Dimension::number, factor, ""});
  const auto* known = known_unit(word);
  if (known == nullptr || !(factor > 0.0)) return Failure{"unknown unit '" + std::string(text) + "'"};
  return std::optional(UnitCell{known->dimension, factor * known->factor, std::string(known->word)});
}

Result<ScaleCell, std::string> scale_cell(std::string_view text, ScaleHabit habit) {
  const auto fail = [&](std::string_view expected) {
    return Failure{"expected " + std::string(expected) + ", found '" + std::string(text) + "'"};
  };
  const auto cell = trimmed(plain(text));
  ScaleCell scale;
  if (cell.empty() || cell == "-" || cell == "--") return scale;
  if (habit == ScaleHabit::decimals) {
    const auto digits = whole_number_of(cell);
    if (!digits || *digits > 12) return fail("a number of decimals from 0 to 12");
    scale.number = 1.0 / std::pow(10.0, *digits);
    return scale;
  }
  std::string_view rest = cell;
  const bool divides = rest.front() == '/';
  const auto number = take_factor(rest);
  if (!number || !(*number > 0.0)) {
    const auto unit = unit_cell(cell);  // a unit alone: a count is one of it
    if (!unit || !*unit || number) return fail("a scale such as 0.1, 1/10 or 0.1 A");
    scale.unit = **unit;
    return scale;
  }
  if (!rest.empty()) {
    const auto unit = unit_cell(rest);
    if (!unit) return Failure{unit.error()};
    scale.unit = *unit;
  }
  scale.number = habit == ScaleHabit::divisor && !divides ? 1.0 / *number : *number;
  return scale;
}

std::optional<RangeCell> range_cell(std::string_view text) {
  const auto cell = trimmed(plain(text));
  const auto ends = parted(bracketless(cell));
  if (!ends) return std::nullopt;
  const auto first = trimmed(ends->first);
  const auto second = trimmed(ends->second);
  const auto lowest = leading_number(first);
  const auto highest = leading_number(second);
  if (!lowest || !highest || lowest->first > highest->first) return std::nullopt;
  RangeCell range{lowest->first, highest->first, std::nullopt};
  for (const auto& behind : {trimmed(lowest->second), trimmed(highest->second)}) {
    if (behind.empty()) continue;
    const auto unit = unit_cell(behind);
    if (!unit) return std::nullopt;
    range.unit = *unit;
  }
  return range;
}

std::optional<std::uint16_t> bit_cell(std::string_view text) {
  auto small = lower(trimmed(plain(text)));
  for (const std::string_view word : {"bits", "bit", "b", "."})
    if (small.starts_with(word) && !small.starts_with("0b")) {
      small = trimmed(std::string_view(small).substr(word.size()));
      break;
    }
  const auto part = [](std::string_view digits) -> std::optional<unsigned> {
    const auto number = number_in(digits, 10);
    return number && *number <= 15 ? std::optional<unsigned>(*number) : std::nullopt;
  };
  if (const auto one = part(small)) return static_cast<std::uint16_t>(1U << *one);
  const auto ends = parted(small);
  if (!ends) return std::nullopt;
  auto first = part(trimmed(ends->first));
  auto last = part(trimmed(ends->second));
  if (!first || !last) return std::nullopt;
  if (*first > *last) std::swap(first, last);
  return static_cast<std::uint16_t>(((2U << (*last - *first)) - 1U) << *first);
}

std::optional<std::uint16_t> mask_cell(std::string_view text) {
  const auto small = lower(trimmed(text));
  if (small.starts_with("bit") || (small.size() > 1 && small[0] == 'b' && is_digit(small[1])))
    return bit_cell(small);
  const auto number = whole_number_of(small);
  return number && *number >= 1 && *number <= 0xFFFF ? std::optional(static_cast<std::uint16_t>(*number))
                                                     : std::nullopt;
}

namespace {

std::vector<std::string> pieces_of(const std::string& text, std::string_view separators) {
  std::vector<std::string> pieces;
  std::size_t from = 0;
  while (from <= text.size()) {
    const auto at = std::min(text.find_first_of(separators, from), text.size());
    auto piece = trimmed(std::string_view(text).substr(from, at - from));
    if (!piece.empty()) pieces.push_back(std::move(piece));
    from = at + 1;
  }
  return pieces;
}

/// "0x0004" of a list of masks is bit 2.
std::optional<int> only_bit(std::uint32_t mask) {
  for (int bit = 0; bit < 16; ++bit)
    if (mask == 1U << static_cast<unsigned>(bit)) return bit;
  return std::nullopt;
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
  if (hexadecimal && only_bit(*number)) {
    entry.number = *only_bit(*number);
    entry.is_bit = true;
  }
  return entry;
}

/// "running=10", "Running (10)".
std::optional<Labelled> label_first(const std::string& piece) {
  auto text = piece;
  if (text.ends_with(')')) text.pop_back();
  const auto at = text.find_last_of("=:(");
  if (at == std::string::npos || at == 0) return std::nullopt;
  const auto number = whole_number_of(std::string_view(text).substr(at + 1));
  if (!number || *number > 0xFFFF) return std::nullopt;
  return Labelled{static_cast<int>(*number), trimmed(std::string_view(text).substr(0, at)), false};
}

}  // namespace

std::vector<Labelled> labelled_cell(std::string_view text, std::vector<std::string>& unread) {
  const auto cell = trimmed(plain(text));
  auto pieces = pieces_of(cell, ";\n|");
  if (pieces.size() == 1) pieces = pieces_of(cell, ",");
  // "running=10 tripped=7", where blanks part the entries.
  if (pieces.size() == 1 && std::count(cell.begin(), cell.end(), '=') > 1 && !is_digit(cell.front()))
    pieces = pieces_of(cell, " ");
  std::vector<Labelled> entries;
  for (const auto& piece : pieces) {
    if (const auto first = number_first(piece)) {
      entries.push_back(*first);
    } else if (const auto last = label_first(piece)) {
      entries.push_back(*last);
    } else if (!entries.empty()) {
      entries.back().label += ", " + piece;  // a comma inside a label
    } else {
      unread.push_back(piece);
    }
  }
  return entries;
}

}  // namespace emberline::io
